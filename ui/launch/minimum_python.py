"""Turns a Python that is too old away; must itself run on Python 3.6."""

import sys

OLDEST = (3, 11)


def refusal(version: tuple) -> str:  # type: ignore[type-arg]  # tuple[...] needs 3.9
    """Say in one sentence that a Python is too old.

    Parameters
    ----------
    version
        Version as in `sys.version_info`; the first two numbers count.

    Returns
    -------
    str
        The sentence; empty where the version is new enough.

    Examples
    --------
    >>> refusal((3, 12, 1))
    ''
    """
    if tuple(version[:2]) >= OLDEST:
        return ""
    found = ".".join(str(number) for number in version[:2])
    needed = ".".join(str(number) for number in OLDEST)
    return (
        f"Struckface needs Python {needed} or newer, and this is Python {found}: "
        f"install a newer one (python.org) and start with it, "
        f"for example python{needed}."
    )


def insist() -> None:
    """Leave with the sentence and exit code 2 where this Python is too old.

    Raises
    ------
    SystemExit
        If the running Python is older than `OLDEST`.

    Examples
    --------
    >>> insist()
    """
    sentence = refusal(sys.version_info)
    if sentence:
        sys.stderr.write(sentence + "\n")
        raise SystemExit(2)
