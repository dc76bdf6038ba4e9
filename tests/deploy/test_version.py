"""The version stands in one place, and what deploys it follows."""

import re
from importlib.metadata import version
from pathlib import Path

import pytest

from service import VERSION

TOP = Path(__file__).parents[2]
FOLLOWERS = {
    "deploy/compose/compose.yaml": r"heelmark:\$\{HEELMARK_VERSION:-([\d.]+)\}",
    "deploy/kubernetes/kustomization.yaml": r"newTag: ([\d.]+)",
    "service/api/http/data/asyncapi.yaml": r"(?m)^  version: ([\d.]+)",
    "deploy/containers/Containerfile": r"heelmark:([\d.]+)",
}


def test_the_packages_metadata_is_the_version():
    assert version("heelmark") == VERSION


@pytest.mark.parametrize("path", FOLLOWERS)
def test_what_deploys_it_names_the_same(path):
    assert re.findall(FOLLOWERS[path], (TOP / path).read_text(encoding="utf-8")) == [VERSION]


def test_the_project_file_states_none_of_its_own():
    project = (TOP / "pyproject.toml").read_text(encoding="utf-8")
    assert not re.search(r'(?m)^version = "', project)
    assert 'version = {attr = "service.VERSION"}' in project
