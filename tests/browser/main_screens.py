"""Every main screen and sheet of the demonstration, and the taps that lead there.

For what has to hold on all of them: pictures, contrast, heights. A name in braces is
an animal of ``demo_patients``; its id is read from the day list or the finder.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from exam_app.store.vault.vault import Vault
from tests.browser.driver import Driver
from tests.browser.handed import fill_closed, pair_with_invented_clinic
from tests.browser.in_process import InProcessDriver
from tests.browser.prepared import in_store, prepare_folder, run_apart
from tests.browser.test_clinic_questions import fill
from tests.clinic_and_device import sealed_by

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
# On a low one, so does an early stop behind what else there is.
_STOP, _EXAM_MORE = "exam-stop", "exam-more"


@dataclass(frozen=True, slots=True)
class Place:
    """A screen or a sheet over it.

    Attributes:
        name: Of the picture.
        route: Where it is; ``{Moss}`` is the exam or the animal of that name.
        taps: Controls tapped there, one after the other; ``FIELD=WORDS`` is typed.
        wait: What is there in the end; of a sheet in another's place something of its
            own, since a tap meant for the one before it is lost.
        kind: Which id of the animals named in the route is meant.
    """

    name: str
    route: str
    taps: tuple[str, ...] = ()
    wait: str = "screen"
    kind: str = "draft"


def _exam(name: str, *taps: str, wait: str = "sheet") -> Place:
    return Place(f"exam-{name}", "/exam/{Moss}", taps, wait)


def _part(name: str, part: str, *taps: str, wait: str = "sheet") -> Place:
    return Place(f"part-{name}", f"/exam/{{Moss}}/region/{part}", taps, wait)


FIELD = (
    Place("day", "/", wait="day-new"),
    Place("examiner", "/", ("examiner",), "sheet"),
    Place("animals", "/animals", wait="animal-search"),
    Place("species", "/animals", ("animal-add",), "sheet"),
    Place("animal-new", "/animal/new/dog", wait="animal-save"),
    Place("animal-problem", "/animal/new/dog", ("animal-save",), "animal-problem"),
    Place("animal", "/animal/{Moss}", wait="animal-save", kind="animal"),
    Place("start", "/start/{Ridge}", wait="start-go", kind="animal"),
    Place(
        "start-intake",
        "/start/{Ridge}",
        ("start-scope-intake",),
        "start-go",
        "animal",
    ),
    Place(
        "start-focused",
        "/start/{Ridge}",
        ("start-scope-focused",),
        "start-go",
        "animal",
    ),
    Place("history", "/history/{Bramble}", (), "history-table-weight", "animal"),
    Place("group-new", "/group/new/sheep", wait="animal-save"),
    Place("litter", "/litter/new/dog"),
    Place("plan", "/plan"),
    Place("kennel", "/kennel"),
    Place("kennel-card", "/kennel/{Vetch}", kind="animal"),
    Place("round", "/round/{Hollow flock}", wait="round-more"),
    Place("exam", "/exam/{Moss}", wait="exam-progress"),
    _exam("marks", "exam-body", "body-mark", wait="mark-panel"),
    _exam("photograph", "exam-more", "exam-photographs", wait="photo-choose"),
    _exam("urgent", "exam-urgent"),
    _exam("given", "visit-given"),
    _exam("bite", "visit-bite"),
    _exam("sums", "sums-open"),
    _exam("sum-dose", "sums-open", "sums-kind-dose"),
    _exam("more", "exam-more"),
    _exam("stop", "exam-stop"),
    _exam("stop-reason", "exam-stop", "stop-reason-unsafe", wait="stop-confirm"),
    # An exam with an urgent sign is not discarded.
    Place(
        "exam-discard",
        "/exam/{Saffron}",
        ("exam-stop", "stop-discard"),
        "discard-confirm",
    ),
    _exam("presentation", "visit-presentation"),
    _exam("procedures", "visit-procedures"),
    _exam("samples", "visit-samples"),
    _exam("visit-plan", "visit-plan"),
    _exam("care", "visit-care"),
    _exam("private", "visit-private"),
    Place("exam-draft-record", "/record/{Moss}/draft", wait="record-copy"),
    _part("page", "nose", wait="region-nose-finding"),
    _part("finding", "nose", "region-nose-finding"),
    _part("more", "nose", "region-nose-more"),
    _part("reason", "nose", "region-nose-more", "more-choice-not-examined"),
    _part("remark", "nose", "region-nose-more", "more-choice-remark"),
    Place("count", "/exam/{Moss}/count/heart_rate"),
    Place("tap-along", "/exam/{Moss}/tap/heart_rate"),
    Place("intake-exam", "/exam/{Saffron}", wait="exam-progress"),
    Place("words", "/exam/{Moss}/words", wait="words-line"),
    Place(
        "words-read",
        "/exam/{Moss}/words",
        ("words-line=T 38.5, tail normal, left ear clear. blimp",),
        "words-asked",
    ),
    Place("round-words", "/round/{Hollow flock}/words", wait="words-row-line"),
    Place("review", "/exam/{Moss}/review", wait="review-status"),
    Place("heart", "/exam/{Moss}/review", ("review-point-heart_rate",), "sheet"),
    Place("pain", "/exam/{Moss}/review", ("review-point-pain",), "sheet"),
    Place("body", "/exam/{Moss}/review", ("review-point-body_condition",), "sheet"),
    Place("records", "/records"),
    Place("record", "/record/{Ridge}", wait="record-signed", kind="record"),
    Place("record-marked", "/record/{Corrin}", (), "record-mark-left", "record"),
    Place(
        "record-closer",
        "/record/{Sorrel}",
        (),
        "record-mark-fore_foot_under.right",
        "record",
    ),
    Place("photograph", "/record/{Corrin}", (_NOW,), "photo-large-0", "record"),
    Place(
        "photographs-both",
        "/record/{Corrin}",
        (_NOW, _BEFORE),
        "photo-large-1",
        "record",
    ),
    Place("correct", "/record/{Ridge}", ("record-correct",), "sheet", "record"),
    Place(
        "correct-words",
        "/record/{Ridge}",
        ("record-correct", "correct-words"),
        "correct-item-0",
        "record",
    ),
    Place("hand-over", "/hand-over", wait="hand-count"),
    Place("pair", "/pair"),
    Place("people", "/people", wait="person-add"),
    Place("person-problem", "/people", ("person-add", "person-save"), "person-problem"),
    Place("settings", "/settings", wait="settings-people"),
    Place("settings-practice", "/settings/practice", wait="settings-save"),
    Place("settings-access", "/settings/access", wait="settings-recovery"),
    Place("settings-looks", "/settings/looks", wait="look-dark"),
    Place("settings-export", "/settings/export", wait="export-begin"),
    Place("settings-table", "/settings/table", wait="table-file"),
    Place("settings-hand-over", "/settings/hand-over", wait="pair-open"),
    Place("care", "/settings/upkeep"),
    Place("owners", "/settings/owners"),
    Place("sources", "/settings/sources"),
    Place("sources-dog", "/settings/sources/dog"),
    Place("sources-ranges", "/settings/sources/dog", ("sources-list-ranges",), "sheet"),
    Place("about", "/about"),
    # These record something in the exam, so that they come last.
    _part(
        "details",
        "nose",
        "region-nose-finding",
        "finding-term-crust",
        wait="finding-done",
    ),
    _part("late", "nose", "region-nose-more", "more-choice-earlier"),
    _part(
        "lump",
        "skin_coat",
        "region-skin_coat-finding",
        "finding-term-lump",
        wait="lump-open",
    ),
    _exam("urgent-answer", "exam-urgent", "urgent-sign-seizure", wait="urgent-clinic"),
    _exam("telephone", "urgent-banner", "urgent-telephone"),
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
# Of a device that is paired, and of a clinic that has questions to answer; their stores
# are made by ``filled_for``.
PAIRED = (
    Place("paired-hand-over", "/hand-over", wait="hand-codes"),
    Place("paired-codes", "/hand-over/codes/1", wait="player-pause"),
    Place("paired-receipt", "/hand-over/receipt/1"),
)
QUESTIONS = (
    Place("questions-clinic", "/", wait="clinic-summary"),
    Place("questions-animals", "/clinic/animals"),
    Place("questions-quarantine", "/clinic/quarantine"),
    Place("questions-devices", "/clinic/devices"),
    Place("questions-receive", "/clinic/receive"),
)
# Each goes on where the one before it ended.
ENTRY = (
    Place("set-up", "/", wait="setup-next"),
    Place("set-up-problem", "/", ("setup-next",), "setup-computer-problem"),
    Place(
        "set-up-passphrase",
        "/",
        (
            "setup-computer-field",
            "setup-practice=Hill practice (demo)",
            "setup-phone=555 0100",
            "setup-next",
        ),
        "setup-passphrase",
    ),
    Place(
        "set-up-person",
        "/",
        (
            "setup-passphrase=seven blue kettles sing",
            "setup-passphrase-again=seven blue kettles sing",
            "setup-next",
        ),
        "person-name",
    ),
    Place(
        "recovery",
        "/",
        (
            "person-name=Alex Rowan (demo)",
            "person-role-technician",
            "person-pin=4321",
            "person-pin-again=4321",
            "setup-next",
        ),
        "setup-recovery-code",
    ),
)
RESTORE = (Place("restore", "/", ("setup-restore",), "restore-pick"),)


def filled_for(computer: str, folder: Path) -> Path:
    """Make the store of a paired device or of a clinic with questions; give its folder.

    Any other computer begins with an empty one.
    """
    if computer == "questions":
        run_apart(lambda: fill(folder))
        return folder / "open" / "clinic"
    if computer == "paired":
        in_store(prepare_folder(folder / "exams"), _fill_paired)
    return folder / "exams"


def _fill_paired(vault: Vault) -> None:
    pair_with_invented_clinic(vault)
    fill_closed(vault, 4)
    sealed_by(vault, 2)


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
    _tap_along(driver, place)
    driver.wait(place.wait)


def _tap_along(driver: Driver | InProcessDriver, place: Place) -> None:
    in_foot = [tap for tap in place.taps if not tap.startswith("photo-")]
    if place.kind == "record" and in_foot:
        driver.any_of(MORE, *in_foot)
    for number, tap in enumerate(place.taps):
        if number:
            # On a slow machine a sheet comes late: no wheel is turned meanwhile to look
            # for its control.
            driver.any_of("sheet", tap.partition("=")[0])
        if place.kind == "record" and tap in in_foot and not driver.has(tap):
            driver.click(MORE)
        if tap == _STOP and not _has_stop(driver):
            driver.click(_EXAM_MORE)
        act(driver, tap)


def _has_stop(driver: Driver | InProcessDriver) -> bool:
    """Whether an early stop has a button of its own; it comes with the header's."""
    driver.wait(_EXAM_MORE)
    return driver.has(_STOP)


def act(driver: Driver | InProcessDriver, tap: str) -> None:
    """Tap a control, or type in a field, as a place's ``taps`` say."""
    name, is_typed, words = tap.partition("=")
    if is_typed:
        driver.type(name, words)
    else:
        driver.click(name)


def _id(known: dict[str, str], kind: str, name: str) -> str:
    said = (one for one in known if one.startswith(kind) and name in one)
    return known[next(said)]


def _named(route: str) -> Iterator[str]:
    for part in route.split("{")[1:]:
        yield part.partition("}")[0]
