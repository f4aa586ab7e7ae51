"""What the log's fields and columns are called, alone and inside sentences."""

from __future__ import annotations

from analysis.fields import column_field, fields_of
from analysis.flags import Flag
from analysis.vocabulary import spoken

_LONG_UNITS = {"s": "seconds", "h": "hours"}
# What a column is called inside a sentence, where its label does not fit in.
_IN_SENTENCES = {
    "cast_on": "casting date",
    "joint_sealing": "joint sealing",
    "joints_sealed": "sealed or open joints",
    "orientation": "orientation in the form",
    "release_application": "way of applying release",
    "reviewed": "review by a person",
    "second": "sale as a second",
}


def label_of(column: str) -> str:
    """Return what a column is called where it stands alone, with its unit.

    Examples
    --------
    >>> label_of("air_c"), label_of("cement_bag")
    ('Air temperature, °C', 'Cement bag')
    """
    found = column_field(column)
    if found is None:
        plain = column.replace("_", " ")
        return plain[:1].upper() + plain[1:]
    if not found.unit or found.unit in found.factor or found.name == "minutes":
        return found.factor  # which says its unit itself
    return f"{found.factor}, {_LONG_UNITS.get(found.unit, found.unit)}"


def column_words(column: str) -> str:
    """Name a column inside a sentence.

    Examples
    --------
    >>> column_words("joints_sealed"), column_words("air_c"), column_words("cement_bag")
    ('sealed or open joints', 'air temperature', 'cement bag')
    """
    if column in _IN_SENTENCES:
        return _IN_SENTENCES[column]
    found = column_field(column)
    return column.replace("_", " ") if found is None else found.factor.lower()


def words_beside(column: str) -> str:
    """Return what a column is, to stand behind its name as it must be typed.

    Empty where the name says it itself.

    Examples
    --------
    >>> words_beside("void_area_percent"), words_beside("pour")
    (' (void area)', '')
    """
    words = column_words(column)
    return "" if words == column.replace("_", " ") else f" ({words})"


def field_words(owner: str, name: str) -> str:
    """Name a field of a record inside a sentence.

    Examples
    --------
    >>> field_words("pour", "air_c"), field_words("pour", "mix_id")
    ('air temperature', 'mix')
    >>> field_words("form_joint", "pour_id")
    'pour'
    """
    for one in fields_of(owner):
        if one.name == name:
            return one.factor.lower()
    return name.removesuffix("_id").replace("_", " ")


def cell_words(column: str, cell: str) -> str:
    """Write a cell of the table of pieces as it stands in a sentence.

    What the log keeps as a code (stages, doubts about the light) is said in words; a
    maker's own words stay.

    Examples
    --------
    >>> cell_words("stage", "as_struck"), cell_words("light", "too_dark+uneven_light")
    ('as struck', 'too dark and uneven light')
    >>> cell_words("mix", "C25_own")
    'C25_own'
    """
    if column == "light":
        codes = frozenset(map(str, Flag))
        return " and ".join(
            one.replace("_", " ") if one in codes else one for one in cell.split("+")
        )
    return spoken(cell)
