"""Reads every demo cylinder's verdict from the service and prints it beside the hidden truth."""

from collections.abc import Mapping
from typing import Any

from demo.compare import compare
from demo.registration import Api
from demo.scenario import DemoCylinder, Recovery, Scenario, Truth
from demo.troubles import MOST_MIN, shown

WIDTHS = (8, 27, 8, 52, 28, 7)
SCALES_KG, LEFT_KG = 0.05, 0.15
"""Two weighings of a trade scale; vapor that is left at the machine's cut-out, and the scales [kg]."""
HEADINGS = ("cylinder", "what is really in it", "label", "the verdict says", "contamination", "within?")


def check(api: Api, scenario: Scenario, age_min: float) -> int:
    """Print both tables; 0 when every verdict, cause and recovery is as it should be, 1 otherwise.

    Parameters
    ----------
    api, scenario
        The service, and what it was shown.
    age_min : float
        Since the demo began to publish [min]; a cause that only time brings is missed only after its time.
    """
    outside = _verdicts(api, scenario)
    print()
    missing = _causes(api, scenario, age_min)
    wrong = recovery_faults(api, scenario.recovery, age_min)
    named = scenario.recovery.appliance
    print("\n" + ("\n".join(wrong) or f"Recoveries out of the {named}: as they really are."))
    return int(outside + missing + len(wrong) > 0)


def _causes(api: Api, scenario: Scenario, age_min: float) -> int:
    """Print which cylinders show each cause; answers how many causes none shows that could be seen by now."""
    missing = 0
    for one in sorted(shown(api, scenario), key=lambda one: one.cause):
        told = ", ".join(one.seen)
        if not one.seen:
            waits = age_min < one.seen_by_min
            missing += not waits
            where = ", ".join(one.expected)
            told = f"not yet: on {where} by minute {one.seen_by_min:.0f}" if waits else f"NOT SEEN on {where}"
        print(f"{one.cause:<24}{told}")
    return missing


def _verdicts(api: Api, scenario: Scenario) -> int:
    print(_row(HEADINGS))
    print(_row(["-" * width for width in WIDTHS]))
    outside = 0
    compared = [cylinder for cylinder in scenario.cylinders if cylinder.compared]
    for cylinder in compared:
        verdict = newest_verdict(api, cylinder.serial)
        told, disagreements = _told(cylinder, verdict)
        print(_row(told))
        for disagreement in disagreements:
            print(f"{'':10}{disagreement}")
        outside += bool(disagreements)
    judged = len(compared)
    print(f"\n{judged - outside} of {judged} cylinders: the truth lies within what the verdict says.")
    return outside


def recovery_faults(api: Api, truth: Recovery, age_min: float) -> list[str]:
    """Say how the recoveries on record differ from what the simulated equipment really gave.

    Parameters
    ----------
    api : Api
        The service.
    truth : Recovery
        The equipment with its charge.
    age_min : float
        Since the demo began to publish [min]; by the fifth minute somebody recovers.
    """
    own = [one for one in api.every("/recoveries") if one["equipment"].get("appliance") == truth.appliance]
    faults = [] if own or age_min < MOST_MIN else [f"no recovery out of the {truth.appliance}"]
    for one in own[:20]:
        course = api.get(f"/recoveries/{one['id']}")
        recovered, called = course["recovered_kg"], f"recovery {one['id']}"
        if recovered > truth.charge_kg + SCALES_KG:
            faults.append(f"{called}: {recovered:.2f} kg came out of {truth.charge_kg:.2f} kg")
        if course["state"] == "ended" and recovered < truth.charge_kg - LEFT_KG:
            faults.append(f"{called}: only {recovered:.2f} kg of {truth.charge_kg:.2f} kg")
        faults += [
            f"{called}: {fill['cylinder']} was overfilled" for fill in course["cylinders"] if fill["over_kg"]
        ]
    return faults


def newest_verdict(api: Api, serial: str) -> Mapping[str, Any] | None:
    """Return the newest verdict on a cylinder's settled pairs; none before the first."""
    verdict: Mapping[str, Any] | None = api.get(f"/cylinders/{serial}/verdict")
    return verdict


def in_words(truth: Truth) -> str:
    """Say what is really in a cylinder."""
    if truth.mixed_with and truth.mixed_fraction:
        return f"{truth.designation} with {truth.mixed_fraction:.0%} {truth.mixed_with}"
    if truth.vapour_lost_fraction:
        return f"{truth.designation}, {truth.vapour_lost_fraction:.0%} lost as vapor"
    if truth.air_kpa:
        return f"{truth.designation} with {truth.air_kpa:.0f} kPa of air"
    return truth.designation + ("" if truth.state == "two-phase" else f", {truth.state}")


def _told(cylinder: DemoCylinder, verdict: Mapping[str, Any] | None) -> tuple[list[str], tuple[str, ...]]:
    truth, label = in_words(cylinder.truth), cylinder.claimed_designation or "none"
    if verdict is None:
        return [cylinder.serial, truth, label, "nothing yet: not settled", "", "waits"], ()
    comparison = compare(cylinder.truth, verdict)
    named = ", ".join(
        f"{candidate['designation']} {candidate['probability']:.2f}"
        for candidate in verdict["identity"]["candidates"][:3]
    )
    contamination = verdict["contamination"]
    likeliest = max(contamination["probabilities"], key=contamination["probabilities"].get)
    found = f"{contamination['finding']} ({likeliest} {contamination['probabilities'][likeliest]:.2f})"
    says = f"{verdict['identity']['finding']}: {named}"
    answer = "yes" if comparison.within else "NO"
    return [cylinder.serial, truth, label, says, found, answer], comparison.disagreements


def _row(cells: tuple[str, ...] | list[str]) -> str:
    return "  ".join(f"{cell:<{width}}" for cell, width in zip(cells, WIDTHS, strict=True)).rstrip()
