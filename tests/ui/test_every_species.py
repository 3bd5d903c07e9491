"""Each species that is shipped, on a phone: added, examined, signed with a find."""

import pytest

from exam_app.protocols.loader import available
from tests.browser.cheap_app import as_environment_asks
from tests.browser.in_process import unlocked
from tests.browser.prepared import prepare_folder
from tests.browser.whole_species import walk_species

pytestmark = pytest.mark.exhaustive


@pytest.mark.parametrize("species", available())
def test_a_species_is_added_examined_and_signed_with_a_find(species, tmp_path):
    folder = prepare_folder(tmp_path / "exams")
    with as_environment_asks(), unlocked(folder) as driver:
        walk_species(driver, species)
