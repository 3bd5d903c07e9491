"""Exams with photographs on a field device, closed and on their way to the clinic.

Invented animals, marked demo; the pictures are grey.
"""

from exam_app.app.handover.photographs import photograph_files
from exam_app.app.queries.kept_records import read_kept
from exam_app.domain.exam.visit import Photo
from tests.handover_places import small_exam
from tests.pictures import hash_of


def photographed(name, *pictures, of=None):
    photos = tuple(Photo(hash_of(one), "a demo nose", "nose") for one in pictures)
    return small_exam(name, of, photos=photos)


def close_with(tablet, name, *pictures, of=None):
    exam = photographed(name, *pictures, of=of)
    for one in pictures:
        tablet.vault.photographs.add(exam.exam_id, one)
    return tablet.close_exam(exam)


def sealed_of(tablet):
    return [sealed for _, sealed in photograph_files(tablet.vault)]


def receive_exams(clinic, tablet, *exam_ids):
    for bundle in tablet.hand_over(*exam_ids):
        clinic.receive(bundle.sealed)


def read(place, exam_id):
    return read_kept(place.vault, exam_id).exam
