"""The command that builds the tables of the refrigerants, and the files it reads and writes."""

import csv
import json
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
import numpy as np

DATA = Path(__file__).parents[1] / "refrigerants" / "data"


@click.command()
@click.option("--processes", default=1, show_default=True, help="How many processes to compute in.")
@click.option("--into", type=click.Path(path_type=Path), default=DATA, show_default="the package")
def tabulate(processes: int, into: Path) -> None:
    """Build the tables of the refrigerants from the equation of state."""
    from service.refrigerants import catalogue_builder, equation_of_state
    from service.refrigerants.tabulate import tabulate_saturation

    into.mkdir(parents=True, exist_ok=True)
    with (DATA / "facts.csv").open(encoding="utf-8", newline="") as stream:
        facts = catalogue_builder.read_facts(csv.DictReader(stream))
    catalogue = catalogue_builder.build_catalogue(facts)
    (into / "catalogue.json").write_text(catalogue.to_json(), encoding="utf-8")
    with ProcessPoolExecutor(processes) as pool:
        saturation = tabulate_saturation(catalogue, _with_progress(pool, "Saturation curves"))
    np.savez_compressed(into / "saturation.npz", **asdict(saturation.tables))
    provenance = {
        "coolprop": equation_of_state.version(),
        "made_on": datetime.now(UTC).date().isoformat(),
        "saturation": saturation.provenance,
    }
    (into / "provenance.json").write_text(json.dumps(provenance, indent=1) + "\n", encoding="utf-8")
    click.echo(f"{len(catalogue)} designations tabulated into {into}")


def _with_progress(pool: ProcessPoolExecutor, label: str) -> Callable[..., Iterator[Any]]:
    def mapped(function: Callable[[Any], Any], items: list[Any]) -> Iterator[Any]:
        with click.progressbar(pool.map(function, items), length=len(items), label=label) as results:
            yield from results

    return mapped
