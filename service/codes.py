"""PURE: closed vocabularies that more than one room says, each of them once; clients rely on the values.

Vocabularies that belong to one module stand there: causes of attention (``cylinders/judgement/causes``), acts
(``permits``), steps of a triage, states of a requalification, problems of the interface (``problem_types``).
"""

from enum import StrEnum


class Severity(StrEnum):
    """How soon somebody must look, of causes and of alarms."""

    CRITICAL = "critical"
    WARNING = "warning"
    NOTICE = "notice"


class AlarmCode(StrEnum):
    """Alarms that are no cause of a cylinder's judgement; those have the codes of its causes."""

    CUSTODY_OVERDUE = "custody-overdue"
    REPAIR_OVERDUE = "repair-overdue"
    CHECK_DUE = "instrument-check-due"
    INSTRUMENT_IN_DOUBT = "instrument-in-doubt"
    NOT_UNDERSTOOD = "not-understood"
    CERTIFICATE_ENDS = "certificate-ends"
    BACKUP_FAILED = "backup-failed"
    WEBHOOK_DISABLED = "webhook-disabled"


class IdentityFinding(StrEnum):
    """Which refrigerant it is: one holds enough probability, several do, or none of the catalogue."""

    IDENTIFIED = "identified"
    NARROWED = "narrowed"
    UNRECOGNISED = "unrecognised"


class ContaminationState(StrEnum):
    """What may be with the refrigerant: nothing, air, a loss of vapor, another refrigerant."""

    NONE = "none"
    AIR = "air"
    SHIFTED = "shifted"
    MIXED = "mixed"


class ContaminationFinding(StrEnum):
    """What a verdict says of contamination; it never says that there is none."""

    NONE_DETECTED = "none-detected"
    AIR = "air"
    SHIFTED = "shifted"
    MIXED = "mixed"
    UNDECIDED = "undecided"


class ContentsFinding(StrEnum):
    """Liquid under vapor, vapor alone, liquid up to the top, or not enough to say."""

    TWO_PHASE = "two-phase"
    VAPOR_ONLY = "vapour-only"
    LIQUID_FULL = "liquid-full"
    UNDECIDED = "undecided"


class ClaimFinding(StrEnum):
    """What the readings say of the label."""

    SUPPORTED = "supported"
    POSSIBLE = "possible"
    CONTRADICTED = "contradicted"


class DispositionCode(StrEnum):
    """What to do with a cylinder, of a verdict and of the advice of its judgement."""

    KEEP = "keep"
    MEASURE_AGAIN = "measure-again"
    HOLD = "hold"
    RECOVER_AND_RECYCLE = "recover-and-recycle"
    SEND_TO_RECLAIMER = "send-to-reclaimer"
    SEND_FOR_DESTRUCTION = "send-for-destruction"


class Standing(StrEnum):
    """Whether a cylinder is still the owner's to use."""

    IN_SERVICE = "in-service"
    HANDED_OVER = "handed-over"
    CONDEMNED = "condemned"
    SCRAPPED = "scrapped"


class Hazard(StrEnum):
    """What the contents may do to people; ``unknown`` where nobody can say what they are."""

    FLAMMABLE = "flammable"
    TOXIC = "toxic"
    OXIDIZING = "oxidizing"
    LIQUID_FULL = "liquid-full"
    UNKNOWN = "unknown"


class LookAlikeHazard(StrEnum):
    """The worst hazard of what reads like a refrigerant, worst first."""

    TOXIC = "toxic"
    HIGHLY_FLAMMABLE = "highly-flammable"
    FLAMMABLE = "flammable"
    MILDLY_FLAMMABLE = "mildly-flammable"
    UNKNOWN = "unknown"
    OTHER = "other"


class ToldBy(StrEnum):
    """What tells a look-alike from what the label says, in the order in which it is told."""

    OTHER_TEMPERATURE = "other-temperature"
    WEIGHT_AND_LEVEL = "weight-and-level"
    COMBUSTIBLE_GAS = "combustible-gas"
    ANALYSER = "analyser"
    LABORATORY = "laboratory"


class MeasurementCode(StrEnum):
    """The next measurement; ``other`` only in verdicts of before there were codes."""

    NONE = "none"
    REPEAT = "repeat"
    WARM = "warm"
    COOL = "cool"
    BETTER_THERMOMETER = "better-thermometer"
    ZERO_GAUGE = "zero-gauge"
    WEIGH = "weigh"
    COMBUSTIBLE_GAS = "combustible-gas"
    LIQUID_LEVEL = "liquid-level"
    ANALYSER = "analyser"
    OTHER = "other"


class Provenance(StrEnum):
    """Where a cylinder comes from: a maker's seal, own records without a gap, or anything else."""

    MAKER = "maker"
    RECORDS = "records"
    UNKNOWN = "unknown"


class PriorKind(StrEnum):
    """How the catalogue is weighed before a reading: by what is met in the field, or all alike."""

    FIELD = "field"
    FLAT = "flat"


class SourcedMark(StrEnum):
    """How a figure of the catalogue is known."""

    READ = "read"
    MEMORY = "memory"
    COMPUTED = "computed"
    INFERRED = "inferred"
    UNKNOWN = "unknown"


class SettlingState(StrEnum):
    """Where a hookup stands, as the worker tells it."""

    WAITING = "waiting"
    WARMING = "warming"
    COOLING = "cooling"
    SETTLING = "settling"
    SETTLED = "settled"
    DISTURBED = "disturbed"
    STALE = "stale"


class AnalysisKind(StrEnum):
    """How it turned out: a laboratory's result, what a reclaimer did, what was found, a maker's sealed container."""

    LABORATORY = "laboratory"
    ACCEPTANCE = "acceptance"
    REJECTION = "rejection"
    CREDIT = "credit"
    OPENED = "opened"
    SEALED = "sealed"


class CareKind(StrEnum):
    """What was done to a cylinder or found on it."""

    INSPECTION = "inspection"
    EVACUATION = "evacuation"
    REQUALIFICATION = "requalification"
    TEST = "test"
    PURITY_RESULT = "purity-result"
    LABEL = "label"
    SCRAPPING = "scrapping"
    OBSERVATION = "observation"


class TestKind(StrEnum):
    """What a test kit was for."""

    ACID = "acid"
    MOISTURE = "moisture"
    OTHER = "other"


class CheckMethod(StrEnum):
    """Against what an instrument was checked."""

    ICE_BATH = "ice-bath"
    OPEN_AIR = "open-air"
    REFERENCE = "reference"
    CERTIFICATE = "certificate"


class CheckQuantity(StrEnum):
    """Of what an instrument's check found the error, named with its unit."""

    TEMPERATURE = "temperature_k"
    ZERO = "zero_pa"
    PRESSURE = "pressure_pa"


class WorkKind(StrEnum):
    """What was done about a leak."""

    LEAK_INSPECTION = "leak-inspection"
    REPAIR = "repair"
    VERIFICATION_INITIAL = "verification-initial"
    VERIFICATION_FOLLOW_UP = "verification-follow-up"


class Destination(StrEnum):
    """What becomes of an exchanged cylinder's contents."""

    RECLAIM = "reclaim"
    DESTRUCTION = "destruction"


class PlaceKind(StrEnum):
    """What a place is."""

    SHOP = "shop"
    VAN = "van"
    SITE = "site"


class Scope(StrEnum):
    """What a token or a person may do."""

    WORKER = "worker"
    EVENTS = "events"
    READER = "reader"
    TECHNICIAN = "technician"
    SUPERVISOR = "supervisor"
    ADMINISTRATOR = "administrator"
    GATEWAY = "gateway"


class UnitSystem(StrEnum):
    """In which units paper is written."""

    INCH_POUND = "inch-pound"
    SI = "si"
