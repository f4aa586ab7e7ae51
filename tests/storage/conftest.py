"""Logs for the storage suite: each test runs on SQLite and on PostgreSQL.

A module that is about the file itself says ``pytestmark = pytest.mark.of_sqlite``.
"""

import itertools
import os
import shutil
from dataclasses import replace
from datetime import date
from uuid import uuid4

import pytest
import sqlalchemy as sa

from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import Form
from analysis.storage.engine import locate
from analysis.storage.records import add
from analysis.storage.store import open_log
from analysis.storage.tables import METADATA
from tests.support import postgres_server

DATABASES = ("sqlite", "postgresql")


def pytest_generate_tests(metafunc):
    """Run what takes a log on each database."""
    if "database" in metafunc.fixturenames:
        only = metafunc.definition.get_closest_marker("of_sqlite")
        metafunc.parametrize(
            "database", DATABASES[: 1 if only else None], scope="session"
        )


@pytest.fixture(scope="session")
def server():
    """Give the folder of the server's socket: the one of the whole run, or our own."""
    pytest.importorskip("psycopg", reason="the driver is a test requirement")
    given = os.environ.get(postgres_server.VARIABLE)
    if given:
        yield given
        return
    with postgres_server.running() as home:
        if home is None:
            pytest.skip("PostgreSQL is not installed here")
        yield home


@pytest.fixture(scope="session")
def databases(server):
    """Lend empty logs of a server, and empty them again when they are given back."""
    tag = uuid4().hex[:12]
    names = (f"t{tag}_{number}" for number in itertools.count())
    free, made = [], []

    def address(name):
        return f"postgresql+psycopg://maker@/{name}?host={server}"

    maker = sa.create_engine(
        address("postgres"), poolclass=sa.pool.NullPool, isolation_level="AUTOCOMMIT"
    )

    def said(text):
        with maker.connect() as connection:
            connection.exec_driver_sql(text)

    def lent():
        if free:
            return free.pop()
        made.append(next(names))
        said(f"CREATE DATABASE {made[-1]}")
        open_log(address(made[-1]))
        return address(made[-1])

    def back(url):
        emptied(url)
        free.append(url)

    yield lent, back
    for name in made:
        said(f"DROP DATABASE {name} WITH (FORCE)")
    maker.dispose()


def emptied(url):
    """Take every row out, and let keys begin at 1 again."""
    engine = sa.create_engine(url, poolclass=sa.pool.NullPool)
    tables = [f'"{name}"' for name in METADATA.tables]
    asked = " UNION ALL ".join(
        f"SELECT '{name}' AS name WHERE EXISTS (SELECT 1 FROM {name})"
        for name in tables
    )
    with engine.begin() as connection:
        full = list(connection.exec_driver_sql(asked).scalars())
        if full:
            connection.exec_driver_sql(f"TRUNCATE {', '.join(full)} CASCADE")
        connection.exec_driver_sql(
            "SELECT setval(oid::regclass, 1, false) FROM pg_class WHERE relkind = 'S'"
        )
    engine.dispose()


@pytest.fixture(scope="session")
def empty_log(tmp_path_factory):
    """An empty log to copy; making one takes half a second."""
    return open_log(tmp_path_factory.mktemp("empty"))


@pytest.fixture
def another_log(tmp_path, database, request, monkeypatch):
    """Make one more empty log at every call."""
    if database == "sqlite":
        yield sqlite_logs(tmp_path, request.getfixturevalue("empty_log"))
        return
    lent, back = request.getfixturevalue("databases")
    urls = []
    folders = (tmp_path / f"log{number or ''}" for number in itertools.count())
    # Where a database's photos lie unless told otherwise: those of the first log.
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path / "log"))

    def make():
        urls.append(lent())
        folder = next(folders)
        folder.mkdir()
        return replace(locate(urls[-1]), photo_folder=folder / "photos")

    yield make
    for url in urls:
        back(url)


def sqlite_logs(tmp_path, empty_log):
    """Return what copies an empty log into a folder of its own."""
    names = itertools.count()

    def make():
        folder = tmp_path / f"log{next(names) or ''}"
        shutil.copytree(empty_log.file.parent, folder)
        return locate(folder)

    return make


@pytest.fixture
def log(another_log):
    return another_log()


@pytest.fixture
def piece_id(log):
    """A piece with its form and pour, to hang readings on."""
    form = add(log, Form(name="Trough A", form_type="trough"), save_token="f")
    pour = add(log, Pour(name="12", cast_on=date(2026, 3, 31)), save_token="p")
    piece = Piece(
        name="007",
        pour_id=pour.id,
        form_id=form.id,
        joints=(JointState(joint="left", sealing="tape", leak="none"),),
        release_agent="oil",
        steps=(Step(method="table", seconds=40.0),),
    )
    return add(log, piece, save_token="c").id
