import pytest

from analysis.errors import InputError, NotInLogError
from analysis.model.log import Piece
from analysis.model.workshop import Form
from analysis.storage.records import add, list_all, load
from analysis.storage.terms import (
    add_term,
    list_terms,
    merge_terms,
    part_term,
    rename_term,
    term_history,
    words,
)


@pytest.fixture
def oiled(log):
    """Three forms with three names for two release agents."""
    for name, agent in (("A", "form oil"), ("B", "Oil"), ("C", "wax")):
        add(log, Form(name=name, release_agent=agent), save_token=name)
    return log


def agents(log):
    return [form.release_agent for form in list_all(log, Form)]


def test_a_rename_shows_in_every_record(oiled):
    rename_term(oiled, "release_agent", "wax", "paste wax")
    assert agents(oiled) == ["form oil", "Oil", "paste wax"]
    last = term_history(oiled, "release_agent")[-1]
    assert (last.change, last.before, last.after) == ("renamed", "wax", "paste wax")


def test_a_merge_can_be_taken_back(oiled):
    merge_terms(oiled, "release_agent", "Oil", "form oil")
    assert agents(oiled) == ["form oil", "form oil", "wax"]
    assert [(term.name, term.uses) for term in list_terms(oiled, "release_agent")] == [
        ("form oil", 2),
        ("wax", 1),
    ]
    part_term(oiled, "release_agent", "Oil")
    assert agents(oiled) == ["form oil", "Oil", "wax"]
    assert [change.change for change in term_history(oiled, "release_agent")] == [
        "added",
        "added",
        "added",
        "merged",
        "parted",
    ]


def test_a_merged_word_typed_again_means_the_other(oiled):
    merge_terms(oiled, "release_agent", "Oil", "form oil")
    merge_terms(oiled, "release_agent", "form oil", "wax")
    saved = add(oiled, Form(name="D", release_agent=" Oil"), save_token="D")
    assert load(oiled, Form, saved.id).release_agent == "wax"


def test_merging_in_a_circle_is_refused(oiled):
    merge_terms(oiled, "release_agent", "Oil", "form oil")
    with pytest.raises(InputError, match="already stands for"):
        merge_terms(oiled, "release_agent", "form oil", "Oil")
    with pytest.raises(InputError, match="already stands for"):
        merge_terms(oiled, "release_agent", "wax", "wax")


def test_a_synonym_of_none_can_become_none(log, piece_id):
    add(log, Form(name="N", release_agent="none"), save_token="n")
    add(log, Form(name="O", release_agent="ohne"), save_token="o")
    merge_terms(log, "release_agent", "ohne", "none")
    assert agents(log) == ["none", "none", None]
    assert load(log, Piece, piece_id).release_agent == "oil"


@pytest.mark.parametrize("change", [rename_term, merge_terms])
def test_words_of_fixed_meaning_stay(oiled, change):
    with pytest.raises(InputError, match="fixed meaning"):
        change(oiled, "release_agent", "none", "wax")


def test_a_rename_to_a_name_in_use_is_refused(oiled):
    with pytest.raises(InputError, match="in the list already"):
        rename_term(oiled, "release_agent", "Oil", "wax")
    with pytest.raises(InputError, match="in the list already"):
        rename_term(oiled, "release_agent", "Oil", "none")
    with pytest.raises(InputError, match="is blank"):
        rename_term(oiled, "release_agent", "Oil", " ")


def test_words_that_are_not_there(oiled):
    with pytest.raises(NotInLogError, match="no term 'soap'"):
        rename_term(oiled, "release_agent", "soap", "suds")
    with pytest.raises(NotInLogError, match="no 'soap' in the list"):
        merge_terms(oiled, "release_agent", "wax", "soap")


def test_words_offered_begin_with_those_in_use(oiled):
    add_term(oiled, "release_agent", "soft  soap")
    offered = words(oiled, "release_agent")
    assert offered[:4] == ("Oil", "form oil", "wax", "soft soap")
    assert "water-based release" in offered
    assert len(set(offered)) == len(offered)


def test_a_blank_word_and_an_unknown_list_are_refused(log):
    with pytest.raises(InputError, match="is blank"):
        add_term(log, "release_agent", " ")
    with pytest.raises(InputError, match="Vocabulary must be one of"):
        add_term(log, "moon", "full")
