"""The wheel and the sdist hold all that runs: they are built, installed alone, and served from.

``STANDCLEAR_LONG=1`` installs into an empty environment, dependencies and all, which fetches them.
"""

import os
import re
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest
import requests

from tests.bench.tables import LONG
from tests.pictures import jpeg
from tests.waiting import until

ROOT = Path(__file__).resolve().parents[2]


def run(*words: str | Path, **options: object) -> str:
    done = subprocess.run(
        list(map(str, words)),
        capture_output=True,
        text=True,
        check=False,
        timeout=900,
        **options,  # type: ignore[call-overload]
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return str(done.stdout)


@pytest.fixture(scope="module")
def sdist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sdist")
    run(sys.executable, "-m", "hatchling", "build", "-t", "sdist", "-d", folder, cwd=ROOT)
    return next(folder.glob("standclear-*.tar.gz"))


@pytest.fixture(scope="module")
def wheel(sdist: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built from the sdist alone, as a packager would."""
    folder = tmp_path_factory.mktemp("wheel")
    with tarfile.open(sdist) as tar:
        tar.extractall(folder, filter="data")
    source = next(folder.iterdir())
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder, cwd=source)
    return next(folder.glob("standclear-*.whl"))


def test_the_sdist_holds_what_a_packager_needs(sdist: Path) -> None:
    with tarfile.open(sdist) as tar:
        names = {name.split("/", 1)[1] for name in tar.getnames() if "/" in name}
    for name in ("README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "deploy/test.sh"):
        assert name in names
    assert "tests/unit/test_house.py" in names
    assert not [name for name in names if "__pycache__" in name or "node_modules" in name]


def test_the_wheel_holds_the_whole_page_and_every_module(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    for part, into in (("service/standclear", "standclear"), ("webclient", "standclear/webclient")):
        for path in (ROOT / part).rglob("*"):
            if path.is_file() and path.suffix in (".py", ".js", ".css", ".html", ".svg", ".typed"):
                inside = f"{into}/{path.relative_to(ROOT / part).as_posix()}"
                assert inside in names, inside
    assert not [name for name in names if name.startswith("tests/")]


def test_what_is_imported_is_asked_for() -> None:
    """Every package that the service imports stands among its dependencies or extras."""
    import tomllib
    from importlib.metadata import packages_distributions

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extras = [
        one
        for name, some in project["optional-dependencies"].items()
        if name != "dev"
        for one in some
    ]
    asked = {
        re.split(r"[ ;<>=!~\[]", one)[0].lower().replace("_", "-")
        for one in [*project["dependencies"], *extras]
    }
    owners = packages_distributions()
    for path in (ROOT / "service").rglob("*.py"):
        for name in re.findall(r"^\s*(?:from|import) (\w+)", path.read_text(), re.MULTILINE):
            if name in sys.stdlib_module_names or name == "standclear":
                continue
            given = {one.lower().replace("_", "-") for one in owners.get(name, [])}
            assert not given or given & (asked | INDIRECT), (path.name, name, given)


#: Come with what is asked for, by promise: with Flask, sshfs and s3fs.
INDIRECT = {"werkzeug", "asyncssh", "aiohttp", "botocore"}


@pytest.fixture(scope="module")
def python(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """A Python that has nothing of this checkout, and the wheel."""
    folder = tmp_path_factory.mktemp("empty")
    venv.create(folder / "env", with_pip=True)
    own = folder / "env" / "bin" / "python"
    if LONG:
        run(own, "-m", "pip", "install", "-q", wheel)
    else:
        run(own, "-m", "pip", "install", "-q", "--no-deps", "--no-index", wheel)
        # What the tests' environment has, without the line that puts this checkout there.
        site = next((folder / "env" / "lib").glob("python*/site-packages"))
        there = [path for path in map(Path, sys.path) if path.name == "site-packages"]
        (site / "beside.pth").write_text("".join(f"{path}\n" for path in there))
    return [str(own)]


def test_installed_alone_it_serves_its_page(python: list[str], tmp_path: Path) -> None:
    (tmp_path / "view.jpg").write_bytes(jpeg(320, 180))
    env = {**os.environ, "VCAMERADIR": str(tmp_path), "PYTHONPATH": ""}
    where = run(
        *python, "-c", "import standclear; print(standclear.__file__)", cwd=tmp_path, env=env
    )
    assert str(ROOT) not in where
    assert "standclear" in run(*python, "-m", "standclear.cli", "--version", cwd=tmp_path, env=env)
    serve = [*python, "-u", "-m", "standclear.cli", "serve", "--camera", "tethered"]
    serve += ["--library", str(tmp_path / "library"), "--host", "127.0.0.1", "--port", "0"]
    with subprocess.Popen(
        serve, cwd=tmp_path, env=env, text=True, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as process:
        try:
            assert process.stdout is not None
            lines = iter(process.stdout.readline, "")
            url = next(line.split()[-1] for line in lines if line.startswith("listening on"))
            page = requests.get(url, timeout=60)
            assert "<script" in page.text
            for name in set(re.findall(r'(?:src|href)="([\w/.-]+\.(?:js|css|svg))"', page.text)):
                assert requests.get(f"{url}/{name}", timeout=60).status_code == 200, name
            until(lambda: requests.get(f"{url}/api/v1/health", timeout=60).ok, 30)
        finally:
            process.terminate()
            process.wait(60)
