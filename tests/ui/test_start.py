"""The starter: options, ports, and what it leaves running."""

from __future__ import annotations

import ast
import http.server
import os
import signal
import socket
import subprocess
import sys
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest

from ui import start
from ui.launch import arguments, minimum_python, ports, provision
from ui.sharing import owner, serving

ROOT = Path(__file__).resolve().parents[2]


@contextmanager
def taken_port():
    with socket.socket() as server:
        server.bind((ports.HOST, 0))
        server.listen()
        yield server.getsockname()[1]


@pytest.mark.parametrize("version", [(3, 6, 15), (3, 10, 13), (2, 7)])
def test_old_python_gets_one_sentence(version):
    sentence = minimum_python.refusal(version)

    assert f"this is Python {version[0]}.{version[1]}:" in sentence
    assert "needs Python 3.11" in sentence
    assert sentence.count("\n") == 0


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 14), (4, 0)])
def test_new_enough_python_is_let_in(version):
    assert minimum_python.refusal(version) == ""


def test_old_python_is_turned_away(monkeypatch, capsys):
    monkeypatch.setattr(sys, "version_info", (3, 9, 6))

    with pytest.raises(SystemExit, match="2"):
        minimum_python.insist()

    assert "this is Python 3.9:" in capsys.readouterr().err


@pytest.mark.parametrize(
    "file",
    [
        "ui/start.py",
        "ui/launch/minimum_python.py",
        "ui/launch/__init__.py",
        "ui/__init__.py",
        "tests/run.py",
    ],
)
def test_old_python_can_read_what_comes_before_the_sentence(file):
    ast.parse((ROOT / file).read_text(encoding="utf-8"), feature_version=(3, 6))


def test_starter_imports_nothing_that_must_be_installed():
    program = f"import sys; sys.path.insert(0, {str(ROOT)!r}); import ui.start"

    answer = subprocess.run(
        [sys.executable, "-I", "-S", "-c", program], capture_output=True, check=False
    )

    assert answer.stderr == b""
    assert answer.returncode == 0


def test_no_options_mean_browser_and_any_port():
    assert arguments.read_options([]) == arguments.Options(
        headless=False, port=None, data=None
    )


def test_options_are_read(tmp_path):
    folder = tmp_path / "Töpfe und Tröge" / "log"

    options = arguments.read_options(
        ["--headless", "--port", "8600", "--data", str(folder)]
    )

    assert options == arguments.Options(headless=True, port=8600, data=folder)
    assert folder.is_dir()


def test_data_folder_is_seen_from_where_the_user_stands(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    assert arguments.read_options(["--data", "log"]).data == tmp_path / "log"


@pytest.mark.parametrize("port", ["0", "-1", "65536", "8e3", "²", "", "eight"])
def test_impossible_port_is_refused(port):
    with pytest.raises(ports.RequestError, match="number from 1 to 65535"):
        arguments.read_options([f"--port={port}"])


@pytest.mark.parametrize("argv", [["--porch"], ["--port"], ["out"], ["--head"]])
def test_unknown_option_is_refused_in_one_sentence(argv, capsys):
    with pytest.raises(ports.RequestError, match="see --help") as caught:
        arguments.read_options(argv)

    assert "\n" not in str(caught.value)
    assert capsys.readouterr().err == ""


def test_nameless_data_folder_is_refused():
    with pytest.raises(ports.RequestError, match="empty name"):
        arguments.read_options(["--data", " "])


def test_data_folder_that_is_a_file_is_refused(tmp_path):
    file = tmp_path / "log.txt"
    file.touch()

    with pytest.raises(ports.RequestError, match=r"log\.txt' cannot be made"):
        arguments.read_options(["--data", str(file)])


@pytest.mark.usefixtures("restored_signals")
def test_refusal_reaches_the_user_as_exit_code_2(capsys):
    assert start.main(["--port", "none"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_wanted_port_that_is_taken_is_refused():
    with (
        taken_port() as port,
        pytest.raises(ports.RequestError, match=f"Port {port} cannot be used"),
    ):
        ports.choose_port(port)


def test_wanted_port_that_is_free_is_taken():
    with taken_port() as port:
        pass

    assert ports.choose_port(port) == port


def test_next_free_port_is_chosen_and_told(capsys):
    with taken_port() as port:
        chosen = ports.choose_port(None, first=port)

    assert port < chosen < port + ports.PORTS_TRIED
    assert f"Port {port} is taken; using {chosen}" in capsys.readouterr().out


def test_no_free_port_is_told(monkeypatch):
    monkeypatch.setattr(ports, "port_trouble", lambda _port: "in use")

    with pytest.raises(ports.RequestError, match="from 65500 to 65535 are taken"):
        ports.choose_port(None, first=65500)


def test_server_is_bound_to_this_machine():
    command = start.server_command(Path("python"), 8600)

    assert "--server.address=127.0.0.1" in command
    assert "--server.port=8600" in command
    assert str(ROOT / "ui" / "sharing" / "local.py") in command


@pytest.mark.parametrize(("status", "well"), [(200, True), (503, False)])
def test_health_is_asked_of_the_machine_itself(status, well, monkeypatch):
    monkeypatch.setenv("http_proxy", "http://127.0.0.1:1")

    class Health(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            self.send_response(status if self.path == "/_stcore/health" else 404)
            self.end_headers()

        def log_message(self, *_):
            pass

    with http.server.HTTPServer((ports.HOST, 0), Health) as server:
        threading.Thread(target=server.handle_request, daemon=True).start()

        assert ports.answers(server.server_port) is well


def test_starter_knows_what_the_server_ends_with():
    assert start.OWNED_ELSEWHERE == serving.OWNED_ELSEWHERE


def test_silence_is_not_health():
    with taken_port() as port:
        pass

    assert not ports.answers(port)


@pytest.fixture
def restored_signals():
    kept = {name: signal.getsignal(name) for name in (signal.SIGINT, signal.SIGTERM)}
    yield
    for name, handler in kept.items():
        signal.signal(name, handler)


SERVER = """
import http.server, os, sys
class Health(http.server.BaseHTTPRequestHandler):
    def do_GET(self):
        self.send_response(200)
        self.end_headers()
    def log_message(self, *_):
        pass
print(os.getpid(), os.environ["STRUCKFACE_DATA"], file=open(sys.argv[2], "w"))
server = http.server.HTTPServer(("127.0.0.1", int(sys.argv[1])), Health)
import threading
threading.Thread(target=server.serve_forever, daemon=True).start()
sys.stdin.read()
"""


@pytest.mark.usefixtures("restored_signals")
def test_stop_takes_the_server_along(tmp_path, monkeypatch, capsys):
    port = ports.choose_port(None, first=20000)
    note = tmp_path / "note"
    command = [sys.executable, "-c", SERVER, str(port), str(note)]
    monkeypatch.setattr(start, "server_command", lambda *_, **__: command)
    signal.signal(signal.SIGTERM, start._interrupt)
    announce = start._announce

    def stop_once_open(*given):
        announce(*given)
        signal.raise_signal(signal.SIGTERM)

    monkeypatch.setattr(start, "_announce", stop_once_open)
    options = arguments.Options(headless=True, port=port, data=tmp_path)

    assert start.serve(Path(sys.executable), options, port) == 0
    assert f"open at http://127.0.0.1:{port}" in capsys.readouterr().out
    assert note.read_text().split()[1] == str(tmp_path)
    assert ports.port_trouble(port) == ""


@pytest.mark.usefixtures("restored_signals")
def test_server_that_never_answers_has_its_environment_remade(
    tmp_path, monkeypatch, capsys
):
    (tmp_path / ".venv").mkdir()
    monkeypatch.setattr(start, "ROOT", tmp_path)
    monkeypatch.setattr(
        start,
        "server_command",
        lambda *_, **__: [sys.executable, "-c", "raise SystemExit(3)"],
    )
    options = arguments.Options(headless=True, port=None, data=None)

    assert start.serve(Path(sys.executable), options, 20000) == 1
    assert "did not start" in capsys.readouterr().out
    assert provision._unfinished_mark(tmp_path / ".venv").exists()


@pytest.mark.usefixtures("restored_signals")
@pytest.mark.parametrize("answers", [True, False])
def test_second_start_on_a_data_folder_opens_the_first(
    answers, tmp_path, monkeypatch, capsys
):
    owner.own(tmp_path, "http://127.0.0.1:8765")
    ends = f"raise SystemExit({start.OWNED_ELSEWHERE})"
    monkeypatch.setattr(
        start, "server_command", lambda *_, **__: [sys.executable, "-c", ends]
    )
    monkeypatch.setattr(ports, "answers", lambda port: answers and port == 8765)
    monkeypatch.setattr(start, "FIRST_S", 0.0)
    options = arguments.Options(headless=True, port=None, data=tmp_path, share=False)

    assert start.serve(Path(sys.executable), options, 20000) == (0 if answers else 1)
    said = capsys.readouterr().out
    wanted = "open already at http://127.0.0.1:8765" if answers else "does not answer"
    assert wanted in said
    owner.let_go(tmp_path)


@pytest.mark.parametrize(
    ("headless", "screen", "opens"),
    [(False, True, True), (True, True, False), (False, False, False)],
)
def test_browser_opens_only_where_there_is_a_screen(
    headless, screen, opens, monkeypatch
):
    opened = threading.Event()
    monkeypatch.setattr(start.webbrowser, "open", lambda _address: opened.set())
    monkeypatch.setattr(start, "_has_screen", lambda: screen)

    start._announce(8501, arguments.Options(headless=headless, port=None, data=None))

    assert opened.wait(5.0 if opens else 0.2) is opens


@pytest.mark.skipif(os.name != "posix", reason="sends signals to a process")
def test_tethered_program_leaves_when_its_starter_is_gone():
    program = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r})\n"
        "import threading, time\n"
        "from ui.launch import tether\n"
        "threading.Thread(target=tether._leave_with_starter, daemon=True).start()\n"
        "time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", program], stdin=subprocess.PIPE) as it:
        it.stdin.close()

        assert it.wait(10) == -signal.SIGTERM
