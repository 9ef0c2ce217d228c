"""An archive in an object store, over the network: a server of one on this computer (moto's), where it is installed.

    pip install 'moto[server]'

The server is looked for as the command `moto_server`; it may belong to another environment.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from pyarrow import fs

from ingest.archive.import_log import import_log
from ingest.archive.place import Folder, open_place
from ingest.archive.read import ArchivedLine, archive_blocks
from ingest.errors import BadLog
from tests.ingest.archive.archive_cases import LINE, bring, differing, tree
from tests.ingest.plain_log import mapping, read, same_blocks, steady, write_csv

SERVER = shutil.which("moto_server")
ROOT = Path(__file__).parents[3]
ACCESS = {"AWS_ACCESS_KEY_ID": "any", "AWS_SECRET_ACCESS_KEY": "any", "AWS_EC2_METADATA_DISABLED": "true"}

pytestmark = pytest.mark.skipif(SERVER is None, reason="no server of an object store (pip install 'moto[server]')")


def probe(store: fs.S3FileSystem) -> None:
    """Skips where the server cannot finish an upload in parts, as old versions of it cannot: pyarrow does so."""
    try:
        with store.open_output_stream("plant/probe") as sink:
            sink.write(b"0" * 100)
    except OSError as error:
        pytest.skip(f"{SERVER} does not finish uploads in parts, a newer one does: {error}")


@pytest.fixture(scope="module")
def endpoint() -> Iterator[str]:
    """Host and port of a server with the bucket 'plant'."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = subprocess.Popen(
        [str(SERVER), "-H", "127.0.0.1", "-p", str(port)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        for _ in range(600):
            with socket.socket() as trying:
                if trying.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        found = f"127.0.0.1:{port}"
        store = fs.S3FileSystem(
            access_key="any", secret_key="any", endpoint_override=found, scheme="http", allow_bucket_creation=True
        )
        store.create_dir("plant")
        probe(store)
        yield found
    finally:
        server.terminate()
        server.wait()


@pytest.fixture
def url(endpoint: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """An archive of its own in the bucket."""
    for name, value in ACCESS.items():
        monkeypatch.setenv(name, value)
    return f"s3://plant/{tmp_path.name}/archive?endpoint_override={endpoint}&scheme=http&region=us-east-1"


def test_an_archive_in_an_object_store_is_that_of_a_folder(url: str, tmp_path: Path) -> None:
    rows = steady(50_000)
    logs = [write_csv(tmp_path / f"{i}.csv", part) for i, part in enumerate((rows[:30_000], rows[20_000:]))]
    for log in logs:
        import_log([log], mapping(), url)
        bring(tmp_path / "here", log, mapping=mapping())
    place = open_place(url)
    assert not isinstance(place, Folder) and place.filesystem.type_name == "s3"
    assert {path: place.read(path) for path in place.files("")} == tree(tmp_path / "here") != {}
    assert import_log([logs[0]], mapping(), url).known == (logs[0],)
    whole, _ = read(write_csv(tmp_path / "whole.csv", rows))
    assert same_blocks(list(archive_blocks(url, LINE)), whole)
    line = ArchivedLine(url, LINE)
    assert line.coarse(line.first, line.end, 60).count.sum() == 3 * 50_000


_IMPORT = """
import sys
from pathlib import Path
from ingest.archive.import_log import import_log
from tests.ingest.plain_log import mapping
import_log([Path(sys.argv[1])], mapping(), sys.argv[2])
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system knows no kill -9")
@pytest.mark.parametrize("seen", ["cells/", "coarse/", "book/line=L1/days"])
def test_killed_while_it_writes_to_an_object_store(url: str, tmp_path: Path, seen: str) -> None:
    log = write_csv(tmp_path / "log.csv", steady(300_000))
    bring(tmp_path / "here", log, mapping=mapping())
    wanted, place = tree(tmp_path / "here"), open_place(url)
    process = subprocess.Popen([sys.executable, "-c", _IMPORT, str(log), url], cwd=ROOT, env=os.environ | ACCESS)
    while process.poll() is None and not any(path.startswith(seen) for path in place.files("")):
        time.sleep(0.005)
    process.kill()
    process.wait()
    assert not any(path.startswith("book/line=L1/imports") for path in place.files("")), "killed too late to tell"
    import_log([log], mapping(), url)
    assert differing({path: place.read(path) for path in place.files("")}, wanted) == []


def test_a_bucket_that_is_not_there_is_named(url: str, tmp_path: Path) -> None:
    log = write_csv(tmp_path / "log.csv", steady(100))
    with pytest.raises((BadLog, OSError), match="nowhere"):
        import_log([log], mapping(), url.replace("s3://plant/", "s3://nowhere/"))
