"""Every range, scale, caution and urgent sign says who, when, read or recalled."""

import re

import pytest

from exam_app.app.exam_start import caution_sources
from exam_app.app.view.source_lists import counted_sources, sourced_lists
from exam_app.domain.protocol.intervals import COMPUTED
from exam_app.domain.wording.source_words import cited, whole_source, year_of
from exam_app.protocols.loader import available, load_protocol, table_sources

CHECKED = ("Read by us", "Recalled by us, not checked")
# Remarks among ourselves: about our own rows, files and keys, never about the print.
INTERNAL = re.compile(
    r"\brows?\b|this file|row note|\b[sf]2_|soft band|own suggestion|TODO|\bverify\b"
    r"|\bsee [a-z]+_|column order|reference/|\.toml",
    re.IGNORECASE,
)


@pytest.fixture(params=available())
def protocol(request):
    return load_protocol(request.param).protocol


def lists_of(protocol):
    return {found.key: found for found in sourced_lists(protocol)}


def test_every_range_scale_sign_and_caution_is_listed_with_its_source(protocol):
    lists = lists_of(protocol)
    assert len(lists["ranges"].lines) == len(protocol.intervals)
    assert len(lists["scales"].lines) == len(protocol.scales)
    assert len(lists["signs"].lines) == len(protocol.urgent_signs)
    assert len(lists["cautions"].lines) == len(protocol.cautions)
    assert len(lists["sources"].lines) == len(protocol.sources)
    for found in lists.values():
        for what, about in found.lines:
            said = any(words in about for words in CHECKED)
            assert said or about.startswith("Common practice, no source"), what


def test_computed_span_is_never_listed_as_only_read(protocol):
    lines = lists_of(protocol)["ranges"].lines
    worked_out = [about for _, about in lines if about.startswith("Worked out by us")]
    computed = [row for row in protocol.intervals if row.provenance == COMPUTED]
    assert len(worked_out) == len(computed)


def test_publisher_and_year_are_named_or_said_to_be_missing(protocol):
    for source in protocol.sources:
        if source.source_id in {"common_practice", "span"}:
            continue
        assert source.publisher or source.work, source.source_id
        whole = whole_source(source)
        assert not source.publisher or year_of(source) in whole
        assert "not seen" not in whole


def test_no_internal_remark_is_shown(protocol):
    shown = [what + about for f in sourced_lists(protocol) for what, about in f.lines]
    shown += protocol.missing
    shown += [scale.note for scale in protocol.scales]
    telling = [text for text in shown if INTERNAL.search(text)]
    assert telling == []


def test_source_of_a_range_is_short_where_a_flag_names_it(protocol):
    titles = protocol.source_titles()
    named = {name for row in protocol.intervals for name in row.every_source()}
    shown = [titles[name] for name in named]
    assert len(set(shown)) == len(shown)
    for title in shown:
        assert len(title) <= 60, title
        assert "http" not in title


def test_what_a_third_party_quotes_says_so():
    """Read second hand: the figures of one printed by another."""
    second_hand = {
        "konietschke2014": "as tabulated by",
        "levy_textbooks": "as cited by",
        "harcourt2001": "as tabulated by",
        "reece_beef": "as cited by",
        "uky_dwyer": "as listed by",
        "ds_kbr": "as repeated by",
        "newfoal": "as quoted by",
        "thehorse_vs": "as quoted by",
        "ext_livestock": "as copied by",
        "alat_gp": "as copied on",
        "hrs": "quoting Merck",
    }
    found = {}
    for species in available():
        for source in load_protocol(species).protocol.sources:
            if source.source_id in second_hand:
                found[source.source_id] = source.title
    assert found.keys() == second_hand.keys()
    for name, words in second_hand.items():
        assert words in found[name]
    for name in ("merck_gest", "merck_nutr", "f2_sheep201"):
        assert "as quoted" in table_sources()[name].title


def test_scale_recalled_from_a_source_that_was_read_says_both():
    horse = load_protocol("horse").protocol
    scale = horse.scale("gut_sounds_4")
    assert scale is not None
    about = cited(horse, (scale.source_id,), scale.provenance)
    assert "Read by us" in about
    assert about.endswith("What stands here was recalled, not checked.")


def test_cautions_before_the_first_touch_have_their_sources_one_tap_away(protocol):
    lines = caution_sources(protocol)
    told = " ".join(lines)
    for caution in protocol.cautions:
        assert caution.text.partition(".")[0] in told
    assert all(any(words in line for words in CHECKED) for line in lines)


def test_sources_are_counted():
    dog = load_protocol("dog").protocol
    read = sum(source.provenance == "read" for source in dog.sources)
    assert counted_sources(dog) == (
        f"{read} sources read, {len(dog.sources) - read} recalled"
    )
