"""`check` on a log whose temperatures are in another unit than its line file gives."""

from __future__ import annotations

from sample_logs import sample_path


def test_check_says_so(tmp_path, run) -> None:
    folder = sample_path("twin_clean")
    text = (folder / "line.toml").read_text(encoding="utf-8")
    assert '"degF"' in text
    (tmp_path / "line.toml").write_text(text.replace('"degF"', '"C"'), encoding="utf-8")
    for line, said in ((folder / "line.toml", 0), (tmp_path / "line.toml", 1)):
        _, out, err = run("check", folder / "log.parquet", "--line", line, "--recipe", folder / "recipe.toml")
        assert err == "" and " ".join(out.split()).count('write unit = "F" at each such [[sensor]]') == said
