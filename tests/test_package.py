"""The built package: what an installation has is what the program needs."""

import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the package and unpack it the way an installation does."""
    folder = tmp_path_factory.mktemp("package")
    subprocess.run([sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder], cwd=ROOT, check=True)
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder / "site")
    return folder / "site"


def test_the_package_holds_pages_and_demo(installed: Path) -> None:
    """Templates, static files and demo boards are installed inside the package, tests are not."""
    assert (installed / "service" / "web" / "templates" / "start.html").is_file()
    assert (installed / "service" / "web" / "static" / "main.js").is_file()
    assert sorted(folder.name for folder in (installed / "service" / "demo_photos").iterdir()) == sorted(
        truth.parent.name for truth in (ROOT / "demo_photos").glob("*/truth.json")
    )
    assert not (installed / "tests").exists()


def test_the_installed_program_finds_its_folders(installed: Path) -> None:
    """Away from the clone the pages and the demo are found inside the package."""
    code = "from service.settings import find_folder; print(find_folder('web'), find_folder('demo_photos'))"

    done = subprocess.run([sys.executable, "-c", code], cwd=installed, capture_output=True, text=True, check=True)

    assert done.stdout.split() == [str(installed / "service" / name) for name in ("web", "demo_photos")]
