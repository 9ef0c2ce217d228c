"""Seven invented lines, from a richly logged twin screw to one that logs two pressures and a speed."""

from __future__ import annotations

from tests.benchmarks.second_plant.spec import FeederSpec, LineSpec, Melt, ZoneSpec

PP_TALC = Melt(n=0.36, b_per_c=0.014, melting_c=165, latent_j_kg=60e3, cp_solid=1700, cp_melt=2000)
PA6_GLASS = Melt(n=0.55, b_per_c=0.022, melting_c=221, latent_j_kg=45e3, cp_solid=1500, cp_melt=1900)
PE_BLACK = Melt(n=0.42, b_per_c=0.011, melting_c=110, latent_j_kg=80e3, cp_solid=1900, cp_melt=2100)
PE_HD = Melt(n=0.45, b_per_c=0.010, melting_c=133, latent_j_kg=180e3, cp_solid=2000, cp_melt=2500)
PS_I = Melt(n=0.32, b_per_c=0.020, melting_c=95, latent_j_kg=0.0, cp_solid=1400, cp_melt=2150)
TPU = Melt(n=0.50, b_per_c=0.030, melting_c=175, latent_j_kg=25e3, cp_solid=1500, cp_melt=2000)


def zones(
    names: tuple[str, ...], sets: tuple[float, ...], kinds: str, heater_w: float, steel: float
) -> tuple[ZoneSpec, ...]:
    """Zones throat to die. kinds: one letter each: f feed, b barrel, k over kneading, a adapter, s screen, d die."""
    words = {"f": "feed", "b": "barrel", "k": "barrel", "a": "adapter", "s": "screen", "d": "die"}
    shear = {"f": 0.1, "b": 0.7, "k": 2.4, "a": 0.15, "s": 0.3, "d": 0.35}
    found = []
    for i, (name, set_c, kind) in enumerate(zip(names, sets, kinds, strict=True)):
        cooled = 0.0 if kind in "asd" else 1.9 * heater_w
        wall = 0.008 * heater_w * (0.5 if kind in "asd" else 1.0)
        # The first heated zone melts pellets and is built stronger.
        heater = heater_w * (0.5 if kind in "asd" else 1.5 if i == 1 else 1.0)
        part = 0.45 if kind in "asd" else 1.0
        found.append(
            ZoneSpec(name, set_c, shear[kind], words[kind], heater, cooled, steel * part, wall)  # type: ignore[arg-type]
        )
    return tuple(found)


LINES: dict[str, LineSpec] = {
    spec.name: spec
    for spec in (
        LineSpec(
            "north",
            "twin",
            320,
            420,
            600,
            90,
            66,
            PP_TALC,
            62,
            14,
            26,
            0.16,
            zones(
                ("B1", "B2", "B3", "B4", "B5", "B6", "B7", "B8", "AD", "SC", "DIE"),
                (60, 190, 210, 215, 215, 210, 210, 215, 220, 220, 225),
                "fbkbbkbbasd",
                4200,
                32000,
            ),
            (
                FeederSpec("PP", 72.0, 0.0, 60, 1.5),
                FeederSpec("TALC", 24.0, 0.9, 45, 1.2, tank=2, wander=0.02, noise_kg=0.012),
                FeederSpec("STAB", 1.5, 0.0, 8, 0.10, hand=True, noise_kg=0.0012, step_kg=0.001, wander=0.01),
                FeederSpec("OIL", 2.5, -3.0, 20, 0.3, noise_kg=0.002, step_kg=0.002, wander=0.006, tank=1, liquid=True),
            ),
            vent=True,
            cadence_s=1,
            second_recipe=True,
        ),
        LineSpec(
            "sued",
            "twin",
            520,
            340,
            500,
            138,
            70,
            PA6_GLASS,
            38,
            8,
            30,
            0.30,
            zones(
                ("Z1", "Z2", "Z3", "Z4", "Z5", "Z6", "Z7", "Z8", "Z9", "DK"),
                (80, 240, 255, 260, 260, 255, 250, 250, 255, 265),
                "fbkbkbbbbd",
                6000,
                60000,
            ),
            (
                FeederSpec("PA6", 68.5, 0.0, 90, 2.5, wander=0.012, noise_kg=0.02),
                FeederSpec("GF", 30.0, 1.1, 60, 2.0, tank=3, wander=0.03, noise_kg=0.02),
                FeederSpec("MB", 1.5, 0.0, 15, 0.2, hand=True, noise_kg=0.003, step_kg=0.005, wander=0.01),
            ),
            vent=True,
            cadence_s=5,
            stop_min=(14, 24),
        ),
        LineSpec(
            "ouest",
            "twin",
            210,
            300,
            500,
            78,
            60,
            PE_BLACK,
            85,
            30,
            34,
            0.14,
            zones(
                ("F1", "F2", "F3", "F4", "F5", "F6", "FIL"),
                (50, 150, 170, 175, 175, 180, 185),
                "fbkbbbd",
                3500,
                26000,
            ),
            (
                FeederSpec("PEBD", 60.0, 0.0, 50, 1.2),
                FeederSpec("NOIR", 37.0, 1.4, 40, 0.9, wander=0.03, noise_kg=0.02, drive_pct=52),
                FeederSpec("CIRE", 3.0, -1.5, 10, 0.15, hand=True, noise_kg=0.002, step_kg=0.002),
            ),
            cadence_s=2,
            cake_bar_h=1.5,
        ),
        LineSpec(
            "colle",
            "twin",
            400,
            380,
            550,
            115,
            62,
            PP_TALC,
            70,
            22,
            28,
            0.22,
            zones(("1", "2", "3", "4", "5", "6", "7"), (60, 190, 210, 215, 215, 220, 225), "fbkbbad", 4500, 36000),
            (FeederSpec("A", 80.0, 0.0, 70, 2.0), FeederSpec("B", 20.0, 0.8, 40, 1.0, wander=0.02)),
            cadence_s=10,
            cake_bar_h=1.0,
        ),
        LineSpec(
            "norte",
            "grooved",
            260,
            120,
            160,
            110,
            64,
            PE_HD,
            150,
            45,
            75,
            1.6,
            zones(
                ("C1", "C2", "C3", "C4", "CF", "CB", "BQ"), (160, 185, 195, 200, 205, 205, 205), "bkkbsad", 3600, 40000
            ),
            intake=1.0,
            drag=1.8,
            cadence_s=2,
            cake_bar_h=2.5,
            hopper_kg=150,
        ),
        LineSpec(
            "wschod",
            "smooth",
            340,
            95,
            125,
            98,
            58,
            PS_I,
            95,
            35,
            90,
            2.6,
            zones(
                ("S1", "S2", "S3", "S4", "S5", "SIT", "PMP", "DYS1", "DYS2", "DYS3"),
                (180, 195, 205, 210, 215, 220, 220, 225, 225, 225),
                "bkkbbsaddd",
                4200,
                42000,
            ),
            intake=1.6,
            drag=1.35,
            pump=True,
            cadence_s=2,
            cake_bar_h=1.5,
            hopper_kg=200,
        ),
        LineSpec(
            "hav",
            "twin",
            450,
            360,
            500,
            84,
            64,
            TPU,
            78,
            26,
            30,
            0.25,
            zones(
                ("T1", "T2", "T3", "T4", "T5", "T6", "T7", "DV", "PL"),
                (90, 185, 200, 205, 200, 195, 190, 195, 215),
                "fbkbkbbad",
                4800,
                40000,
            ),
            (
                FeederSpec("TPU", 94.0, 0.0, 80, 2.5, wander=0.015, noise_kg=0.02),
                FeederSpec("VOKS", 1.0, -4.0, 10, 0.12, hand=True, noise_kg=0.002, step_kg=0.002, wander=0.01),
                FeederSpec("FR", 5.0, 0.3, 15, 0.3, noise_kg=0.004, step_kg=0.005),
            ),
            intake=1.4,
            stop_min=(6, 11),
            cadence_s=2,
            cake_bar_h=1.0,
        ),
    )
}
