"""Chemical names of components, for the brackets after an n.o.s. name (49 CFR 172.203(k))."""

from typing import Final

# From the numbering rule of ISO 817 / ASHRAE 34 and common chemical nomenclature (from memory).
CHEMICAL_NAMES: Final = {
    "R-11": "trichlorofluoromethane",
    "R-12": "dichlorodifluoromethane",
    "R-13": "chlorotrifluoromethane",
    "R-22": "chlorodifluoromethane",
    "R-23": "trifluoromethane",
    "R-32": "difluoromethane",
    "R-114": "1,2-dichlorotetrafluoroethane",
    "R-115": "chloropentafluoroethane",
    "R-116": "hexafluoroethane",
    "R-123": "2,2-dichloro-1,1,1-trifluoroethane",
    "R-124": "2-chloro-1,1,1,2-tetrafluoroethane",
    "R-125": "pentafluoroethane",
    "R-134a": "1,1,1,2-tetrafluoroethane",
    "R-142b": "1-chloro-1,1-difluoroethane",
    "R-143a": "1,1,1-trifluoroethane",
    "R-152a": "1,1-difluoroethane",
    "R-170": "ethane",
    "R-218": "octafluoropropane",
    "R-227ea": "1,1,1,2,3,3,3-heptafluoropropane",
    "R-236fa": "1,1,1,3,3,3-hexafluoropropane",
    "R-245fa": "1,1,1,3,3-pentafluoropropane",
    "R-290": "propane",
    "R-600": "butane",
    "R-600a": "isobutane",
    "R-601": "pentane",
    "R-601a": "isopentane",
    "R-717": "ammonia",
    "R-744": "carbon dioxide",
    "R-1234yf": "2,3,3,3-tetrafluoropropene",
    "R-1234ze(E)": "trans-1,3,3,3-tetrafluoropropene",
    "R-1233zd(E)": "trans-1-chloro-3,3,3-trifluoropropene",
    "R-1270": "propylene",
    "R-E170": "dimethyl ether",
}


def chemical_name(component: str) -> str:
    """Name of a component, or its designation where no name is kept."""
    return CHEMICAL_NAMES.get(component, component)
