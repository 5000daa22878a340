"""What the ground floor keeps. Named here so that Django finds every table."""

from builds.models.customers import Customer
from builds.models.edition import Edition
from builds.models.engines import Engine
from builds.models.guests import GuestLink
from builds.models.jobs import Build, BuildKind, BuildState, readiness_checks, sealed_checks, with_states
from builds.models.once import FormSent
from builds.models.parts import COMMON_ROLES, PartFitted, PartTakenOut, WhyOut
from builds.models.people import LengthUnit, Person, WorksAs
from builds.models.photos import MediaType, Photo, PhotoFiling, PhotoKind
from builds.models.readings import Instrument, InstrumentKind, Reading, UsualUncertainty
from builds.models.recalls import Recall, RecallLine, RecallMark, RecallStep, TracedBy
from builds.models.returns import (
    CausePrompt,
    Condition,
    Confidence,
    Evidence,
    Finding,
    FindingPhoto,
    Looked,
    PromptLook,
    Return,
    Side,
    Symptom,
)
from builds.models.running import CheckRule, RunEntry, RunUnit, StatedAs, ToldAnswer, ToldReading
from builds.models.sheets import (
    Acceptance,
    Authority,
    Role,
    SealedSheet,
    Signature,
    SignerCertificate,
    Signing,
)
from builds.models.shop import Limit, PaperSize, Shop
from builds.models.tablets import EnrolledTablet, PinTries

__all__ = [
    "COMMON_ROLES", "Acceptance", "Authority", "Build", "BuildKind", "BuildState", "CausePrompt", "CheckRule",
    "Condition", "Confidence", "Customer", "Edition", "Engine", "EnrolledTablet", "Evidence", "Finding",
    "FindingPhoto", "FormSent", "GuestLink", "Instrument", "InstrumentKind", "LengthUnit", "Limit", "Looked",
    "MediaType", "PaperSize", "PartFitted", "PartTakenOut", "Person", "Photo", "PhotoFiling", "PhotoKind",
    "PinTries", "PromptLook", "Reading", "Recall", "RecallLine", "RecallMark", "RecallStep", "Return", "Role",
    "RunEntry", "RunUnit", "SealedSheet", "Shop", "Side", "Signature", "SignerCertificate", "Signing", "StatedAs",
    "Symptom", "ToldAnswer", "ToldReading", "TracedBy", "UsualUncertainty", "WhyOut", "WorksAs", "readiness_checks",
    "sealed_checks", "with_states",
]  # fmt: skip
