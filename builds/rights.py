"""Who may do what: one table of rights for each kind of person, and the right that each address asks for.

Kept by `builds.middleware.RightsMiddleware`: an address that is not entered here is open to nobody. Another floor
enters its own addresses when it starts; `tests/builds/test_rights.py` walks every address of the book.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from builds.models import Person

ONLY_AN_OWNER = "Only an owner of this book may do that. Ask one of them."
NO_ENTRY = (
    "This page is open to nobody: it stands in no table of rights. Whoever keeps the program enters it there."
)
CAME_BY_PIN = "You came in by PIN. Leave, log in with your password, and do it then."


class Right(StrEnum):
    """What may be done. The value is how a page asks for it: `{% if may.measure %}`."""

    OPEN = "open"  # to anybody, logged in or not
    GUEST = "guest"  # to whoever came by a link to one job, and for that job alone
    READ = "read"  # the whole book
    OWN = "own"  # one's own page, password and PIN
    PRINT = "print"  # sheets
    MEASURE = "measure"  # readings, packs, marks, photos, trials
    SETUP = "setup"  # what stands on an engine and is judged by: heads, rockers, cards, limits of a job; the drawer
    OFFICE = "office"  # customers, engines, jobs, parts
    SHARE = "share"  # links for guests
    SIGN = "sign"  # as the one who measured
    CHECK = "check"  # as the one who checked
    SHOP = "shop"  # letterhead, the shop's limits, the rule of verdicts
    PEOPLE = "people"  # people, their rights, the bench's tablets


_EVERYBODY = {Right.OPEN, Right.READ, Right.OWN, Right.PRINT}
_BUILDER = _EVERYBODY | {Right.MEASURE, Right.SETUP, Right.OFFICE, Right.SIGN}
# To check is nobody's by what they are: each person has it or has it not.
ROLES: dict[str, frozenset[Right]] = {
    "nobody": frozenset({Right.OPEN}),
    "guest": frozenset({Right.OPEN, Right.GUEST}),
    "office": frozenset(_EVERYBODY | {Right.OFFICE, Right.SHARE}),
    "builder": frozenset(_BUILDER),
    "owner": frozenset(_BUILDER | {Right.SHARE, Right.SHOP, Right.PEOPLE}),
}
# What a PIN does not open, whoever it is: four figures are typed before everybody's eyes.
NOT_BY_PIN = frozenset({Right.SHOP, Right.PEOPLE, Right.SHARE})

SENTENCES = {
    Right.MEASURE: "Readings, packs, marks and photos are written by a builder or an owner; the office reads them.",
    Right.SETUP: "What stands on an engine, what it is judged by, and the drawer are changed by a builder or an owner. "
    "Ask one of them.",
    Right.OFFICE: "Customers, engines, jobs and parts are changed by whoever works here.",
    Right.SHARE: "A link for a customer is made, and revoked, by the office or an owner. Ask one of them.",
    Right.SIGN: "A sheet is signed as measured by a builder or an owner.",
    Right.CHECK: "A sheet is signed as checked by somebody with the right to check. An owner gives it, under People.",
    Right.SHOP: ONLY_AN_OWNER,
    Right.PEOPLE: ONLY_AN_OWNER,
}


def rights_of(person: Person, *, by_pin: bool = False) -> frozenset[Right]:
    """All that a person may do; less when a PIN brought them in."""
    if not person.is_active:
        return ROLES["nobody"]
    found = ROLES[person.works_as] | ({Right.CHECK} if person.may_check else set())
    return frozenset(found - NOT_BY_PIN) if by_pin else frozenset(found)


def why_not(right: Right, person: Person, *, by_pin: bool = False) -> str:
    """Why a person may not do something, and who may; nothing when they may."""
    if right in rights_of(person, by_pin=by_pin):
        return ""
    return CAME_BY_PIN if right in rights_of(person) else SENTENCES.get(right, ONLY_AN_OWNER)


@dataclass(frozen=True)
class Rule:
    """What an address asks for: to be looked at, and to be written to."""

    read: Right
    write: Right

    def asks(self, method: str | None) -> Right:
        """The right for one request."""
        return self.read if method in ("GET", "HEAD") else self.write


url_rules: dict[str, Rule] = {}


def enter(names: str | Iterable[str], read: Right, write: Right | None = None) -> None:
    """Enter addresses by their names. Without `write`, whoever may look may send, and the view says what it takes."""
    for name in names.split() if isinstance(names, str) else names:
        if name in url_rules:
            raise ValueError(f"The address {name} stands in the table of rights already.")
        url_rules[name] = Rule(read, read if write is None else write)


enter("login first-owner guest-enter tablet-who", Right.OPEN)
enter("guest-job guest-photo", Right.GUEST)
enter("logout tablet-lock tablet-touch", Right.READ)
enter("me password pin", Right.OWN)

enter("job-list job-detail job-readings job-changes", Right.READ)
enter("customer-list customer-detail engine-list engine-detail", Right.READ)
enter("job-new job-edit job-open part-new part-edit part-remove customer-new customer-edit", Right.OFFICE)
enter("engine-new engine-edit engine-hand-over", Right.OFFICE)
enter("part-out part-out-undo", Right.OFFICE)
enter("engine-parts part-trace part-survival recall-list recall", Right.READ)
enter(
    "recall-begin recall-edit recall-add recall-mark recall-strike recall-close recall-reopen", Right.OFFICE
)
enter("recall-letters recall-letter", Right.PRINT)
enter("job-links", Right.READ, Right.SHARE)
enter("job-link-new job-link-revoke", Right.SHARE)

enter("log log-step", Right.READ)
enter("log-reading log-strike photo-upload photo-refile", Right.MEASURE)
enter("job-photos photo photo-file", Right.READ)
enter("print-run print-run-file", Right.PRINT)

enter("job-sheets sheet-ready sheet-check sealed-sheet sealed-check", Right.READ)
enter("sheet-draft sealed-pdf", Right.PRINT)
enter("sheet-begin sheet-sign", Right.SIGN)
enter("sheet-seal accept-out", Right.CHECK)
enter("accept-overdue verify-page", Right.SHOP)
enter("guest-sheet", Right.GUEST)

enter("return-list return-facts return-compare job-came-back", Right.READ)
enter("return-choose return-open return-edit", Right.OFFICE)

enter("job-running", Right.READ, Right.OFFICE)
enter("job-checks job-told", Right.READ)
enter("run-correct run-strike", Right.OFFICE)
enter("check-open check-done check-again told-take told-leave", Right.MEASURE)
enter("guest-run guest-told", Right.GUEST)

enter("job-limits drawer", Right.READ)
enter("job-limit job-limit-clear instrument-new instrument-edit", Right.SETUP)

enter("shop person-list", Right.READ)
enter("shop-edit shop-changes limit-edit guard-band usual-uncertainty-edit", Right.SHOP)
enter("check-rule-edit", Right.SHOP)
enter("due-list", Right.READ)
enter("person-new person-edit person-password person-active", Right.PEOPLE)
enter("tablet-list tablet-enrol tablet-revoke", Right.PEOPLE)

enter("finding-list finding symptom-list symptom engine-timeline", Right.READ)
enter("finding-new finding-edit finding-take-back finding-look", Right.MEASURE)
enter("finding-photos finding-photo-remove finding-choose", Right.MEASURE)
enter("finding-evidence-new finding-evidence-remove", Right.MEASURE)
enter("symptom-new symptom-edit symptom-move symptom-prompt-new prompt-edit prompt-move", Right.SHOP)
