"""The farm call: a horse without a scale, and a protocol of the practice's own."""

from importlib.resources import files

from exam_app.domain.animal.signalment import AgeBasis, Animal, Sex
from exam_app.domain.exam.vitals import Setting
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import prepare_folder, unlock

MARE = Animal(
    "c" * 32,
    "Ash (demo)",
    "horse",
    sex=Sex.FEMALE,
    age_days=3000,
    age_basis=AgeBasis.TOLD,
    is_demo=True,
)


def test_a_horse_without_a_scale_gets_an_estimate_that_stays_one(
    phone, tmp_path, run_app
):
    folder = prepare_exam(tmp_path / "exams", animal=MARE, setting=Setting.FARM)
    unlock(phone, run_app(folder=folder))
    phone.go(f"/exam/{EXAM_ID}")
    phone.click("vital-weight")
    phone.click("tape-open")
    phone.type("tape-length-heart_girth", "185")
    phone.type("tape-length-body_length", "165")
    phone.wait_text("tape-result-horse_girth_length", "about 475 kg")
    phone.wait_text("tape-differ", "The rules differ")
    phone.shot("tape-phone")
    phone.click("tape-take-horse_girth_length")
    phone.gone("sheet")
    phone.wait_text("vital-weight", "estimated, not weighed")
    phone.shot("tape-taken-phone")


def test_a_practices_own_protocol_is_used_and_a_faulty_one_is_told(
    laptop, tmp_path, run_app
):
    folder = prepare_folder(tmp_path / "exams")
    own = folder / "protocols"
    own.mkdir()
    dog = files("exam_app.protocols").joinpath("dog.toml").read_text("utf-8")
    mine = dog.replace('label = "Dog"', 'label = "Dog of this practice"', 1)
    (own / "dog.toml").write_text(mine, "utf-8")
    (own / "cat.toml").write_text("species = 7", "utf-8")
    unlock(laptop, run_app(folder=folder))
    laptop.click("day-new")
    laptop.click("animal-add")
    laptop.wait_text("protocol-refused", "cat.toml")
    laptop.wait_text("animal-add-dog", "Dog of this practice")
    laptop.shot("own-protocol-laptop")
    laptop.click("animal-add-dog")
    laptop.type("animal-name", "Fen (demo)")
    laptop.click("animal-save")
    laptop.click("start-go")
    laptop.wait("exam-progress")
