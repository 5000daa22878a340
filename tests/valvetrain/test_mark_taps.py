"""What is read of a tapped picture, and that whatever is sent is answered with a sentence."""

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.recording import EntryRefused
from valvetrain.mark_taps import MOST_POINTS, Taps, read_taps

SIZE = (1200, 900)
RIM = [[100, 100], [300, 90], [400, 300], [250, 420], [80, 300]]
WHOLE = {
    "rim": RIM, "inner": [[200, 150], [200, 350]], "outer": [[280, 150], [280, 350]], "toward_shaft": "left",
    "toward_front": "up", "stem_at": "down", "rim_diameter": {"text": "0.3125", "unit": "in"},
}  # fmt: skip


def taps(**changed: object) -> Taps:
    return read_taps(json.dumps(WHOLE | changed), size=SIZE)


def refused(text: str) -> str:
    with pytest.raises(EntryRefused) as told:
        read_taps(text, size=SIZE)
    return told.value.sentence


def test_whole_taps_are_read_and_kept_as_they_came():
    read = taps()
    assert read.missing == ""
    assert read.rim_diameter is not None
    assert read.rim_diameter.base == Decimal("0.3125")
    assert read.to_keep() == WHOLE


def test_taps_of_an_empty_page_are_fine_and_say_what_is_missing():
    read = read_taps("{}", size=SIZE)
    assert read.missing == "Tap 5 more on the rim, 2 more on the inner edge and 2 more on the outer edge."


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"inner": [[200, 150]]}, "Tap 1 more on the inner edge."),
        ({"toward_shaft": ""}, "Say on which side of the picture the rocker’s shaft lies."),
        ({"toward_front": ""}, "Say on which side of the picture the front of the engine lies."),
        (
            {"rim_diameter": {"text": " ", "unit": "in"}},
            "Type the diameter of the rim: it scales the picture.",
        ),
    ],
)
def test_what_is_missing_is_said_one_thing_at_a_time(changed, sentence):
    assert taps(**changed).missing == sentence


def test_a_stem_that_is_not_seen_is_no_gap():
    kept = {name: told for name, told in WHOLE.items() if name != "stem_at"}
    for sent in (kept, kept | {"stem_at": ""}):
        read = read_taps(json.dumps(sent), size=SIZE)
        assert (read.missing, read.stem_at) == ("", "")


def test_a_diameter_is_read_in_the_unit_behind_it():
    read = taps(rim_diameter={"text": "7.9375 mm", "unit": "in"})
    assert read.rim_diameter is not None
    # Hand-worked: 7.9375 / 25.4 = 0.3125.
    assert read.rim_diameter.base == Decimal("0.3125")


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"rim": [[1, 1]] * (MOST_POINTS + 1)}, "The rim has 61 points; 60 are enough for any."),
        ({"outer": [[1300, 10]]}, "Point 1 of the outer edge lies beside the picture."),
        ({"toward_shaft": "north"}, "Where the shaft lies is left, right, up or down"),
        ({"stem_at": "below"}, "Where the stem shows, if it is seen, is left, right, up or down in the picture."),
        ({"toward_front": "right"}, "can’t lie right when the shaft lies left"),
        ({"rim_diameter": {"text": "0.3.1", "unit": "in"}}, "“0.3.1” has two dots. Type one decimal point. Did you mean"),
        ({"rim_diameter": {"text": "312", "unit": "in"}}, "312 in is no valve’s tip and no lash cap."),
        ({"rim_diameter": {"text": "8", "unit": "lbf"}}, "“lbf” is not a unit that fits here."),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused_with_what_would_be_right(changed, words):
    assert words in refused(json.dumps(WHOLE | changed))


@pytest.mark.parametrize(
    "text",
    ["", "taps", "[]", "null", "7", '{"rim": 7}', '{"rim": [7]}', '{"rim": [[1]]}', '{"rim": [[1, null]]}',
     '{"rim": [[NaN, 1]]}', '{"rim": [[1, Infinity]]}', '{"rim": [[true, 1]]}', '{"rim": [[1e999, 1]]}',
     '{"rim": [[1' + "0" * 400 + ', 1]]}', '{"rim": [[' + "9" * 5000 + ', 1]]}', "[" * 9000, '{"rim_diameter": []}',
     '{"rim_diameter": {"text": 0.3125}}', '{"rim_diameter": {"text": "\\ud800"}}',
     '{"rim_diameter": {"text": "\\u0000"}}'],
)  # fmt: skip
def test_what_no_page_sends_is_told_that_the_page_is_stale(text):
    assert "Load the page again" in refused(text)


def test_a_long_text_is_not_even_read():
    assert "more than 60 points" in refused('{"rim": [' + "[1, 1]," * 9000 + "[1, 1]]}")


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(st.text(max_size=8), inner, max_size=5),
    max_leaves=20,
)


def answer(text: str) -> Taps | str:
    """What is read, or the sentence; anything else that is raised fails the test."""
    try:
        return read_taps(text, size=SIZE)
    except EntryRefused as error:
        error.sentence.encode()  # a page can show it
        return error.sentence


@given(st.text(max_size=200) | ANYTHING.map(json.dumps))
def test_any_text_is_read_or_refused_with_a_sentence(text):
    told = answer(text)
    assert isinstance(told, Taps) or told.endswith((".", "?"))


@given(st.fixed_dictionaries({}, optional=dict.fromkeys(WHOLE, ANYTHING)))
def test_any_shape_under_the_known_names_is_read_or_refused(changed):
    told = answer(json.dumps(WHOLE | changed))
    if isinstance(told, Taps):
        assert json.loads(json.dumps(told.to_keep())) == told.to_keep()
    else:
        assert told.endswith((".", "?"))
