"""``python -m tests.containers.standins``: images from Debian's packages where no registry of images is reached.

Needs root, podman with catatonit and with names for containers on internal networks too (netavark with aardvark-dns;
the dnsname plugin gives those none), buildah and debootstrap. What makes this machine reach its package indexes
(certificates, pip's settings) goes into the stand-in of the base image alone, which nobody ships.
"""

import shutil
import subprocess
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
BASE = "docker.io/library/python:3.11-slim-bookworm"
MIRROR = "http://deb.debian.org/debian"
PACKAGES = "python3,python3-venv,ca-certificates"
CARRIED = ("/etc/ssl/certs/ca-certificates.crt", "/etc/pip.conf")


def make_base() -> None:
    """The image that the Containerfile starts from."""
    with tempfile.TemporaryDirectory(dir="/var/tmp") as folder:
        root = Path(folder) / "root"
        strap = ["debootstrap", "--variant=minbase", f"--include={PACKAGES}", "bookworm", str(root), MIRROR]
        subprocess.run(strap, check=True)
        (root / "usr/bin/python").symlink_to("python3")
        for name in CARRIED:
            if Path(name).exists():
                shutil.copy(name, root / name[1:])
        archive = Path(folder) / "root.tar"
        subprocess.run(["tar", "--create", "--file", str(archive), "--directory", str(root), "."], check=True)
        subprocess.run(["podman", "import", str(archive), BASE], check=True)


def build(image: str, file: Path, context: Path) -> None:
    """One image; without a namespace of its own for the network, which a machine like this may not grant."""
    options = ["--isolation", "chroot", "--network", "host", "--pull-never"]
    subprocess.run(
        ["buildah", "bud", *options, "--file", str(file), "--tag", image, str(context)], check=True
    )


def main() -> None:
    """Make whatever is missing."""
    if subprocess.run(["podman", "image", "exists", BASE]).returncode != 0:
        make_base()
    for name in ("database", "broker", "proxy", "machine"):
        build(f"localhost/heelmark-standin-{name}", HERE / f"{name}.Containerfile", HERE)


if __name__ == "__main__":
    main()
