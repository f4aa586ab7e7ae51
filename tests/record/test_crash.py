import pytest

from analysis.record.readings import list_readings
from analysis.record.store import open_log
from tests.record.crowd import all_at_once, faults, kill_during_saves, new_log


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
