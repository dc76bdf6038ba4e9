"""Rules, checks and limits as JSON: every answer names the rule, its clause and how it is known."""

from typing import Any

from service.api.quantities import masses, temperatures
from service.cylinders.filling import FillingLimit
from service.cylinders.money import Stake
from service.cylinders.rules import Breach, Caution, Rule
from service.operations.checks import Checked


def encode_rule(rule: Rule, detail: str | None = None) -> dict[str, Any]:
    """A rule with the numbers at hand."""
    return {
        "code": rule.code,
        "text": rule.text,
        "source": rule.citation,
        "edition": rule.edition,
        "mark": rule.mark,
        "may_override": rule.may_override,
        "detail": detail,
    }


def encode_said(said: Breach | Caution) -> dict[str, Any]:
    """A broken rule or a caution."""
    return encode_rule(said.rule, said.detail)


def encode_limit(limit: FillingLimit | None, tare_kg: float | None) -> dict[str, Any] | None:
    """A filling limit in both units, net and gross."""
    if limit is None:
        return None
    governing = limit.governing
    return {
        "designation": limit.designation,
        **masses("net_mass", limit.mass_kg),
        **masses("gross_mass", None if tare_kg is None else tare_kg + limit.mass_kg),
        "governed_by": encode_rule(governing.rule, governing.detail),
        "limits": [
            {"rule": encode_rule(one.rule, one.detail), **masses("net_mass", one.mass_kg)}
            for one in limit.limits
        ],
    }


def encode_stake(stake: Stake) -> dict[str, Any]:
    """Money at stake."""
    return {
        "credit": float(stake.credit),
        "charge": float(stake.charge),
        "at_stake": float(stake.at_stake),
        "unpriced": list(stake.unpriced),
    }


def encode_check(checked: Checked) -> dict[str, Any]:
    """The guard's answer."""
    check = checked.check
    return {
        "cylinder": checked.judgement.state.serial,
        "refrigerant": checked.incoming.designation,
        **masses("mass", checked.incoming.mass_kg),
        "allowed": check.allowed,
        "may_be_overridden": check.may_be_overridden,
        "reasons": [encode_said(breach) for breach in check.breaches],
        "cautions": [encode_said(caution) for caution in check.cautions],
        "accepted_by": encode_rule(check.accepted_by) if check.accepted_by and check.allowed else None,
        "limit": encode_limit(check.limit, checked.judgement.state.tare_kg),
        **masses("remaining", check.remaining_kg),
        **masses("remaining_after", check.remaining_after_kg),
        "liquid_fraction": checked.liquid_fraction,
        **temperatures("liquid_full_temperature", checked.liquid_full_temp_k),
        "stake": encode_stake(checked.stake),
    }
