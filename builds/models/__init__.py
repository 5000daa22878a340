"""What the ground floor keeps. Named here so that Django finds every table."""

from builds.models.customers import Customer
from builds.models.edition import Edition
from builds.models.engines import Build, BuildState, Engine, readiness_checks, sealed_checks, with_states
from builds.models.guests import GuestLink
from builds.models.once import FormSent
from builds.models.parts import COMMON_ROLES, PartFitted
from builds.models.people import LengthUnit, Person, WorksAs
from builds.models.photos import MediaType, Photo, PhotoFiling, PhotoKind
from builds.models.readings import Instrument, InstrumentKind, Reading, UsualUncertainty
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
    "COMMON_ROLES", "Acceptance", "Authority", "Build", "BuildState", "Customer", "Edition", "Engine", "EnrolledTablet",
    "FormSent", "GuestLink", "Instrument", "InstrumentKind", "LengthUnit", "Limit", "MediaType", "PaperSize",
    "PartFitted", "Person", "Photo", "PhotoFiling", "PhotoKind", "PinTries", "Reading", "Role", "SealedSheet", "Shop",
    "Signature", "SignerCertificate", "Signing", "UsualUncertainty", "WorksAs", "readiness_checks",
    "sealed_checks", "with_states",
]  # fmt: skip
