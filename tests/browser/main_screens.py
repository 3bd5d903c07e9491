"""Every main screen and sheet of the demonstration, and the taps that lead there.

For what has to hold on all of them: pictures, contrast, heights. A name in braces is
an animal of ``demo_patients``; its id is read from the day list or the finder.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from tests.browser.driver import Driver
from tests.browser.in_process import InProcessDriver

# Which list names what of an animal: the identifier's start, and how a line is known.
_LISTS = {
    "draft": "day-draft-",
    "record": "day-closed-",
}
_EVERY_RECORD = "records-line-"

_ID_LENGTH = 32
# Of the hashes of the two pictures of ``demo_patients``.
_NOW, _BEFORE = "photo-of-5aa0bf4f74ff", "photo-beside-256edabf45ab"
# On a phone, what stands at the foot of a record elsewhere lies behind it.
MORE = "record-more"


@dataclass(frozen=True, slots=True)
class Place:
    """A screen or a sheet over it.

    Attributes:
        name: Of the picture.
        route: Where it is; ``{Moss}`` is the exam or the animal of that name.
        taps: Controls tapped there, one after the other.
        wait: What is there in the end.
        kind: Which id of the animals named in the route is meant.
    """

    name: str
    route: str
    taps: tuple[str, ...] = ()
    wait: str = "screen"
    kind: str = "draft"


def _exam(name: str, *taps: str, wait: str = "sheet") -> Place:
    return Place(f"exam-{name}", "/exam/{Moss}", taps, wait)


FIELD = (
    Place("day", "/", wait="day-new"),
    Place("examiner", "/", ("examiner",), "sheet"),
    Place("animals", "/animals", wait="animal-search"),
    Place("species", "/animals", ("animal-add",), "sheet"),
    Place("animal-new", "/animal/new/dog", wait="animal-save"),
    Place("animal-problem", "/animal/new/dog", ("animal-save",), "animal-problem"),
    Place("animal", "/animal/{Moss}", wait="animal-save", kind="animal"),
    Place("start", "/start/{Ridge}", wait="start-go", kind="animal"),
    Place("history", "/history/{Bramble}", (), "history-table-weight", "animal"),
    Place("group-new", "/group/new/sheep", wait="animal-save"),
    Place("litter", "/litter/new/dog"),
    Place("plan", "/plan"),
    Place("kennel", "/kennel"),
    Place("round", "/round/{Hollow flock}", wait="round-more"),
    Place("exam", "/exam/{Moss}", wait="exam-progress"),
    _exam("marks", "exam-body", "body-mark", wait="mark-panel"),
    _exam("photograph", "exam-more", "exam-photographs", wait="photo-choose"),
    _exam("urgent", "exam-urgent"),
    _exam("given", "visit-given"),
    _exam("bite", "visit-bite"),
    _exam("sums", "sums-open"),
    Place("review", "/exam/{Moss}/review", wait="review-status"),
    Place("heart", "/exam/{Moss}/review", ("review-point-heart_rate",), "sheet"),
    Place("pain", "/exam/{Moss}/review", ("review-point-pain",), "sheet"),
    Place("body", "/exam/{Moss}/review", ("review-point-body_condition",), "sheet"),
    Place("records", "/records"),
    Place("record", "/record/{Ridge}", wait="record-signed", kind="record"),
    Place("record-marked", "/record/{Corrin}", (), "record-mark-left", "record"),
    Place("photograph", "/record/{Corrin}", (_NOW,), "photo-large-0", "record"),
    Place(
        "photographs-both",
        "/record/{Corrin}",
        (_NOW, _BEFORE),
        "photo-large-1",
        "record",
    ),
    Place("correct", "/record/{Ridge}", ("record-correct",), "sheet", "record"),
    Place("hand-over", "/hand-over", wait="hand-count"),
    Place("pair", "/pair"),
    Place("people", "/people", wait="person-add"),
    Place("person-problem", "/people", ("person-add", "person-save"), "person-problem"),
    Place("settings", "/settings", wait="look-dark"),
    Place("care", "/settings/upkeep"),
    Place("owners", "/settings/owners"),
    Place("sources", "/settings/sources"),
    Place("sources-dog", "/settings/sources/dog"),
    Place("about", "/about"),
    Place("locked", "/", ("examiner", "lock-now"), "lock-pin"),
)
CLINIC = (
    Place("clinic", "/", wait="clinic-review"),
    Place("clinic-receive", "/clinic/receive"),
    Place("clinic-review", "/clinic/review"),
    Place("clinic-devices", "/clinic/devices"),
    Place("clinic-pair", "/clinic/pair"),
    Place("clinic-animals", "/clinic/animals"),
    Place("clinic-quarantine", "/clinic/quarantine"),
    Place("clinic-day-pack", "/clinic/day-pack"),
    Place("clinic-record", "/", ("clinic-read-next",), "record-signed"),
    Place("clinic-recheck", "/", ("clinic-read-next", "clinic-recheck"), "sheet"),
)
ENTRY = (Place("set-up", "/"), Place("set-up-problem", "/", ("setup-next",)))


def ids(driver: Driver | InProcessDriver) -> dict[str, str]:
    """Read what every exam and animal of the lists says, with its id, by kind."""
    found = {}
    for kind, start in _LISTS.items():
        for name in driver.names(start):
            found[f"{kind} {driver.text(name)}"] = name.removeprefix(start)
    if not found:
        return found
    # Just after midnight the day's list shows only some of what was closed before it.
    driver.go("/records")
    driver.named(_EVERY_RECORD)
    for name in driver.names(_EVERY_RECORD):
        found[f"record {driver.text(name)}"] = name.removeprefix(_EVERY_RECORD)
    driver.go("/animals")
    driver.wait("animal-search")
    for name in driver.names("animal-"):
        if len(key := name.removeprefix("animal-")) == _ID_LENGTH:
            found[f"animal {driver.text(name)}"] = key
    return found


def show(driver: Driver | InProcessDriver, place: Place, known: dict[str, str]) -> None:
    """Go to a place, from wherever the page is."""
    if driver.has("sheet-close"):
        driver.click("sheet-close")
        driver.gone("sheet")
    driver.go("/plan")
    driver.wait("plan-add")
    route = place.route
    for name in _named(route):
        route = route.replace(f"{{{name}}}", _id(known, place.kind, name))
    driver.go(route)
    if route != "/plan":
        driver.gone("plan-add")
    in_foot = [tap for tap in place.taps if not tap.startswith("photo-")]
    if place.kind == "record" and in_foot:
        driver.any_of(MORE, *in_foot)
    for tap in place.taps:
        if place.kind == "record" and tap in in_foot and not driver.has(tap):
            driver.click(MORE)
        driver.click(tap)
    driver.wait(place.wait)


def _id(known: dict[str, str], kind: str, name: str) -> str:
    said = (one for one in known if one.startswith(kind) and name in one)
    return known[next(said)]


def _named(route: str) -> Iterator[str]:
    for part in route.split("{")[1:]:
        yield part.partition("}")[0]
