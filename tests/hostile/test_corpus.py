import pytest

from .corpus import broken


@pytest.mark.parametrize("seed", [*range(12), 1130, 1405, 2163, 7044])  # the last four once broke
def test_a_hostile_room_breaks_no_promise(seed):
    case, faults = broken(seed)
    assert not faults, case
