"""A cow on a phone, added, examined, signed and read; as the other species are."""

from tests.browser.prepared import unlock
from tests.browser.whole_species import walk_species


def test_a_cow_is_added_examined_and_signed_with_a_find(phone, prepared):
    unlock(phone, prepared)
    walk_species(phone, "cattle")
