"""The command that builds the tables of the refrigerants, and the files it reads and writes."""

import csv
import json
import signal
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import click
import numpy as np

from service.refrigerants.fluids import LEFT_OUT
from service.refrigerants.surfaces import AIR_SOLUBILITY_SOURCE
from service.store.artefacts import load_uncertainties

_CHUNK = 50
DATA = Path(__file__).parents[1] / "refrigerants" / "data"


@click.command()
@click.option("--processes", default=1, show_default=True, help="How many processes to compute in.")
@click.option("--into", type=click.Path(path_type=Path), default=DATA, show_default="the package's own data")
@click.option(
    "--catalogue-only", is_flag=True, help="When facts or uncertainties have changed and no composition has."
)
@click.option(
    "--look-alikes-only", is_flag=True, help="The table of what may stand in for a label's refrigerant."
)
def tabulate(processes: int, into: Path, catalogue_only: bool, look_alikes_only: bool) -> None:
    """Build the tables of the refrigerants from the equation of state; takes some minutes."""
    if find_spec("CoolProp") is None:
        raise click.ClickException("the equation of state is not installed: pip install 'heelmark[tables]'")
    # Imported here so that no other command pays for loading the equation of state.
    from service.refrigerants import catalogue_builder
    from service.refrigerants import tabulate as tables

    stated = load_uncertainties()
    catalogue = catalogue_builder.build_catalogue(catalogue_builder.read_facts(_read_facts()), stated)
    into.mkdir(parents=True, exist_ok=True)
    (into / "catalogue.json").write_text(catalogue.to_json(), encoding="utf-8")
    if catalogue_only:
        relative = np.array([item.relative_uncertainty for item in catalogue.values()])
        _replace(into / "saturation.npz", catalogue.designations, relative_uncertainty=relative)
        mixtures = tables.mixture_uncertainties(catalogue, stated)
        _replace(into / "surfaces.npz", catalogue.designations, mixture_uncertainty=mixtures)
        click.echo(f"{len(catalogue)} designations written into {into / 'catalogue.json'}")
        return
    with _processes(processes) as pool:
        alike = tables.tabulate_look_alikes(catalogue, stated, _with_progress(pool, "Look-alikes"))
        names = np.array(["+".join(parts) for parts in alike.parts])
        _write_arrays(into / "look_alikes.npz", asdict(alike) | {"parts": names})
        if look_alikes_only:
            return
        saturation = tables.tabulate_saturation(catalogue, _with_progress(pool, "Saturation curves"))
        mapped = partial(_with_progress, pool)
        surfaces = tables.tabulate_surfaces(catalogue, saturation.tables, stated, mapped)
    _write(into, catalogue, saturation, surfaces)
    click.echo(f"{len(catalogue)} designations tabulated into {into}")


def _write(into: Path, catalogue: Any, saturation: Any, surfaces: Any) -> None:
    """Write the tables, and how they were made."""
    from service.refrigerants import equation_of_state
    from service.refrigerants import tabulate as tables

    provenance = {
        "coolprop": equation_of_state.version(),
        "made_on": datetime.now(UTC).date().isoformat(),
        "left_out": LEFT_OUT,
        "stand_in_pairs": tables.stand_in_pairs(catalogue),
        "air_solubility": AIR_SOLUBILITY_SOURCE,
        "saturation": saturation.provenance,
        "mixtures_not_solved": surfaces.failures,
    }
    for name, arrays in (
        ("saturation", asdict(saturation.tables)),
        ("surfaces", _flat(asdict(surfaces.surfaces))),
    ):
        _write_arrays(into / f"{name}.npz", arrays)
    (into / "provenance.json").write_text(json.dumps(provenance, indent=1) + "\n", encoding="utf-8")


@contextmanager
def _processes(count: int) -> Iterator[ProcessPoolExecutor]:
    """Compute in processes that end with this one, also when it is interrupted or told to stop."""
    pool = ProcessPoolExecutor(count)
    told_before = signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    try:
        yield pool
    finally:
        signal.signal(signal.SIGTERM, told_before)
        pool.shutdown(cancel_futures=True)


def _read_facts() -> list[dict[str, str]]:
    with (DATA / "facts.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _flat(arrays: dict[str, Any]) -> dict[str, Any]:
    """The table within the tables beside them, its names marked."""
    return arrays | {f"dense_{name}": values for name, values in arrays.pop("dense").items()}


def _write_arrays(path: Path, arrays: dict[str, Any]) -> None:
    np.savez_compressed(path, **arrays)


def _replace(path: Path, designations: tuple[str, ...], **arrays: Any) -> None:
    """Put other uncertainties into tables of the same designations."""
    with np.load(path) as archive:
        kept = dict(archive)
    if tuple(kept["designations"].tolist()) != designations:
        raise click.ClickException(f"{path}: other designations; build all the tables")
    _write_arrays(path, kept | arrays)


def _with_progress(pool: ProcessPoolExecutor, label: str) -> Callable[..., Iterator[Any]]:
    def mapped(function: Callable[[Any], Any], items: list[Any]) -> Iterator[Any]:
        with click.progressbar(
            pool.map(function, items, chunksize=_CHUNK if len(items) > 1000 else 1),
            length=len(items),
            label=label,
        ) as results:
            yield from results

    return mapped
