import re
from pathlib import Path

import pytest

from service.paperwork import shipping
from service.paperwork.shipping import Form
from service.refrigerants.catalogue import Catalogue
from service.store.rulebook import load_adr_gases

CATALOGUE = Catalogue.from_json(
    (Path(__file__).parents[2] / "service/refrigerants/data/catalogue.json").read_text(encoding="utf-8")
)

SI = Form("si", CATALOGUE)
INCH_POUND = Form("inch-pound", CATALOGUE)
ADR = Form("si", CATALOGUE, "eu", load_adr_gases())

# UN numbers, names and divisions of the 49 CFR 172.101 table (2015 edition, read).
TABLE = [
    ("R-22", "UN1018", "Refrigerant gas R 22", "2.2"),
    ("R-134a", "UN3159", "Refrigerant gas R 134a", "2.2"),
    ("R-125", "UN3220", "Refrigerant gas R 125", "2.2"),
    ("R-32", "UN3252", "Refrigerant gas R 32", "2.1"),
    ("R-404A", "UN3337", "Refrigerant gas R 404A", "2.2"),
    ("R-407A", "UN3338", "Refrigerant gas R 407A", "2.2"),
    ("R-407C", "UN3340", "Refrigerant gas R 407C", "2.2"),
    ("R-12", "UN1028", "Refrigerant gas R 12", "2.2"),
    ("R-152a", "UN1030", "Refrigerant gas R 152a", "2.1"),
    ("R-502", "UN1973", "Refrigerant gas R 502", "2.2"),
]


@pytest.mark.parametrize(("designation", "un_number", "name", "division"), TABLE)
def test_order_of_172_202(designation, un_number, name, division):
    paper = shipping.single(CATALOGUE[designation], 9.61, form=INCH_POUND)
    assert paper.text == f"{un_number}, {name}, {division}; 1 cylinder, 21.2 lb net"


@pytest.mark.parametrize(
    ("designation", "expected"),
    [
        # n.o.s. assignments from memory; 172.203(k): technical names in brackets.
        ("R-410A", "UN3163, Liquefied gas, n.o.s. (difluoromethane, pentafluoroethane), 2.2"),
        (
            "R-454B",
            "UN3161, Liquefied gas, flammable, n.o.s. (difluoromethane, 2,3,3,3-tetrafluoropropene), 2.1",
        ),
    ],
)
def test_nos_names_carry_their_technical_names_and_the_caution(designation, expected):
    paper = shipping.single(CATALOGUE[designation], 9.61, form=SI)
    assert paper.text == f"{expected}; 1 cylinder, 9.61 kg net"
    assert shipping.MEMORY in paper.notes


def test_r410a_is_not_un3337():
    # Reference caution: 3337 is R-404A.
    assert shipping.single(CATALOGUE["R-410A"], 1.0, form=SI).un_number != "UN3337"


def test_a_mixture_is_described_by_the_fitting_nos_name():
    # 172.101(c)(10)(iii) (2015 edition, read).
    both = [CATALOGUE["R-22"], CATALOGUE["R-410A"]]
    paper = shipping.mixture({"R-22": 0.75, "R-410A": 0.25}, both, 8.0, form=SI)
    assert paper.text.startswith("UN1078, Refrigerant gases, n.o.s. (chlorodifluoromethane, ")
    flammable = shipping.mixture(
        {"R-22": 0.9, "R-32": 0.1},
        [CATALOGUE["R-22"], CATALOGUE["R-32"]],
        8.0,
        form=SI,
    )
    assert flammable.un_number == "UN3161" and flammable.hazard_division == "2.1"


def test_candidates_give_a_tentative_name():
    paper = shipping.mixture(
        {"R-22": 0.6, "R-407C": 0.4},
        [CATALOGUE["R-22"], CATALOGUE["R-407C"]],
        None,
        form=SI,
        tentative=True,
    )
    assert shipping.TENTATIVE in paper.notes and "net mass not known" in paper.text


def test_what_cannot_be_described_is_not_described():
    assert shipping.unknown().text is None and shipping.unknown().notes
    assert shipping.single(CATALOGUE["R-11"], 5.0, form=SI).text is None
    assert shipping.mixture({"R-22": 1.0}, [CATALOGUE["R-11"]], 5.0, form=SI).text is None


@pytest.mark.parametrize("tentative", [True, False])
def test_what_may_be_poisonous_to_breathe_gets_no_name_that_hides_it(tentative):
    both = [CATALOGUE["R-717"], CATALOGUE["R-410A"]]
    found = shipping.mixture({"R-717": 0.4, "R-410A": 0.6}, both, 6.0, form=SI, tentative=tentative)
    assert found.text is None and "identify it first" in found.notes[0]


def test_residue_and_evacuated():
    assert shipping.single(CATALOGUE["R-22"], 0.1, form=SI, residue=True).text.startswith(
        "RESIDUE: Last Contained, UN1018"
    )
    assert shipping.evacuated().text == "Empty cylinder, evacuated"


@pytest.mark.parametrize("designation", CATALOGUE)
def test_there_is_one_number_and_one_division_in_a_cell(designation):
    one = CATALOGUE[designation]
    assert one.un_number.value is None or re.fullmatch(r"(UN|NA)\d{4}", one.un_number.value)
    assert one.hazard_division.value is None or re.fullmatch(r"2\.[123]|3", one.hazard_division.value)


@pytest.mark.parametrize(
    ("designation", "technical"),
    [
        # PHMSA letter 99-0089 (opening read) and 172.203(k)(1) (2015 edition, read): the components that most
        # contribute to the hazard. R-455A is, R-1234yf 3/21.5/75.5; R-457A R-32, R-1234yf, R-152a.
        ("R-455A", ("2,3,3,3-tetrafluoropropene", "difluoromethane")),
        ("R-446A", ("difluoromethane", "butane")),  # 68 R-32, 29 R-1234ze(E) (Division 2.2), 3 R-600
        ("R-411A", ("1,1-difluoroethane", "propylene")),  # 87.5 R-22, 11 R-152a, 1.5 R-1270
        ("R-507A", ("1,1,1-trifluoroethane", "pentafluoroethane")),  # not flammable: by mass, equal by name
    ],
)
def test_technical_names_are_the_components_that_bring_the_hazard(designation, technical):
    paper = shipping.single(CATALOGUE[designation], 1.0, form=SI)
    assert set(paper.technical_names) == set(technical)


def test_gases_that_are_poisonous_to_breathe_say_so_behind_the_description():
    # 172.102(c)(1) special provisions 13 and 3, 172.203(m), 2015 edition, read.
    ammonia = shipping.single(CATALOGUE["R-717"], 10.0, form=SI)
    assert ammonia.text == "UN1005, Ammonia, anhydrous, 2.2, Inhalation Hazard; 1 cylinder, 10.00 kg net"
    assert ammonia.name_in_full == "Ammonia, anhydrous, Inhalation Hazard"
    sulfur_dioxide = shipping.single(CATALOGUE["R-764"], 10.0, form=SI)
    assert ", 2.3, Poison-Inhalation Hazard, Zone C;" in sulfur_dioxide.text


@pytest.mark.parametrize(
    ("designation", "expected"),
    [
        # ADR 5.4.1.1.1 (a), (b), (c), (k), numbers, labels and tunnel codes of table A, Norwegian edition 2025, read.
        ("R-22", "UN 1018 CHLORODIFLUOROMETHANE (REFRIGERANT GAS R 22), 2.2, (C/E); 1 cylinder, 9.61 kg net"),
        ("R-404A", "UN 3337 REFRIGERANT GAS R 404A, 2.2, (C/E); 1 cylinder, 9.61 kg net"),
        (
            "R-410A",
            "UN 3163 LIQUEFIED GAS, N.O.S. (difluoromethane, pentafluoroethane), 2.2, (C/E); 1 cylinder, 9.61 kg net",
        ),
        ("R-290", "UN 1978 PROPANE, 2.1, (B/D); 1 cylinder, 9.61 kg net"),
        ("R-717", "UN 1005 AMMONIA, ANHYDROUS, 2.3 (8), (C/D); 1 cylinder, 9.61 kg net"),
    ],
)
def test_form_of_adr(designation, expected):
    assert shipping.single(CATALOGUE[designation], 9.61, form=ADR).text == expected


def test_an_empty_uncleaned_receptacle_under_adr():
    # ADR 5.4.1.1.6.2.1, Norwegian edition 2025, read.
    assert shipping.single(CATALOGUE["R-290"], 0.1, form=ADR, residue=True).text == "EMPTY RECEPTACLE, 2.1"


@pytest.mark.parametrize("law", ["ca", "au"])
def test_where_the_law_was_not_read_no_other_stands_in_for_it(law):
    form = Form("si", CATALOGUE, law, load_adr_gases())
    for paper in (
        shipping.single(CATALOGUE["R-22"], 9.61, form=form),
        shipping.mixture({"R-22": 1.0}, [CATALOGUE["R-22"]], 9.61, form=form),
    ):
        assert paper.text is None and "not read" in paper.notes[0]


@pytest.mark.parametrize("designation", CATALOGUE)
def test_every_number_of_the_catalogue_is_in_the_table_of_adr(designation):
    number = CATALOGUE[designation].un_number.value
    assert number is None or load_adr_gases().get(number) is not None
