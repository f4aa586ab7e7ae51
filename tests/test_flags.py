import pytest

from analysis.flags import FLAG_WORDS, LIGHT_FLAGS, Flag


def test_every_flag_has_words_and_no_words_are_left_over():
    assert set(FLAG_WORDS) == set(Flag)


@pytest.mark.parametrize("flag", Flag)
def test_words_are_two_short_sentences(flag):
    meaning, cure = FLAG_WORDS[flag]
    for sentence in (meaning, cure):
        assert sentence[0].isupper()
        assert sentence.endswith(".")
        assert len(sentence) <= 100
        assert "\n" not in sentence


def test_no_two_flags_mean_the_same():
    assert len({meaning for meaning, _ in FLAG_WORDS.values()}) == len(Flag)


def test_a_flag_is_the_word_a_machine_reads():
    for flag in Flag:
        assert str(flag) == flag.value == flag.name.lower()


def test_doubts_about_light_are_flags():
    assert set(Flag) > LIGHT_FLAGS
    assert Flag.BLURRED not in LIGHT_FLAGS
    assert Flag.UNEVEN_LIGHT in LIGHT_FLAGS
    # These show in the voids only: a better face must not pass for another light.
    assert not {Flag.GRAZING_LIGHT, Flag.FLAT_LIGHT} & LIGHT_FLAGS


def test_words_cannot_be_changed():
    with pytest.raises(TypeError, match="does not support item assignment"):
        FLAG_WORDS[Flag.BLURRED] = ("a", "b")
