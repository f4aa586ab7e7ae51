import pytest

from analysis.errors import RecordError
from analysis.storage.reading_lines import list_readings
from analysis.storage.store import open_log
from tests.support.crowd import all_at_once, context, faults, kill_during_saves, new_log


@pytest.mark.slow
def test_a_killed_save_leaves_the_whole_reading_or_nothing(tmp_path):
    log, piece_id = new_log(tmp_path)
    came_back = 0
    for number in range(10):
        came_back += kill_during_saves(log, piece_id, name=f"k{number}", seed=number)
        open_log(tmp_path)
        assert faults(log) == []
        # A save may be whole without its process having lived to count it.
        assert 0 <= len(list_readings(log)) - came_back <= number + 1


@pytest.mark.slow
def test_saves_of_several_processes_all_arrive(tmp_path):
    log, piece_id = new_log(tmp_path)
    codes, came_back = all_at_once(log, piece_id, processes=4, saves=10)
    assert codes == [0] * 4
    assert came_back == len(list_readings(log)) == 40
    assert faults(log) == []


def open_one(folder, failures):
    """Open a log; count it if that fails."""
    try:
        open_log(folder)
    except RecordError:
        with failures.get_lock():
            failures.value += 1
        raise


@pytest.mark.slow
def test_a_new_log_may_be_opened_by_several_processes_at_once(tmp_path):
    made = context()
    failures = made.Value("i", 0)
    crowd = [
        made.Process(target=open_one, args=(tmp_path / "log", failures))
        for _ in range(5)
    ]
    for process in crowd:
        process.start()
    for process in crowd:
        process.join()
    assert failures.value == 0
    assert [process.exitcode for process in crowd] == [0] * 5
