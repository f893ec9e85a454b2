"""What a residual current device sees and trips on, and why: by hand, and Kirchhoff's law."""

import pytest
from hypothesis import given
from installation_strategies import live_installations, on_board
from modelled import LINE, RING

from faultfinder.network.branch import Branch, Node, edited
from faultfinder.network.currents import currents
from faultfinder.network.installation import (
    CableConstants,
    feeder_device,
    live_network,
    pole,
    residual_device,
)
from faultfinder.network.residual import protected, residuals_a, trips, ways_out
from faultfinder.network.wiring import bar, run_branch, terminal
from faultfinder.wiring.circuit import Cable, Device, Load
from faultfinder.wiring.installation import (
    Board,
    EarthPath,
    Feeder,
    Impedance,
    Installation,
    Supply,
)

SUPPLY = Supply("TN-C-S", 230.0, ("A",), 50.0, Impedance(0.15, 0.04), Impedance(0.2, 0.03))
RCD = Device("C", 20.0, 30.0)
LAMP = Load("lights.S3", ("A", "N"), 529.0, 0.0, "lamp", is_fixed=True)
KETTLE = Load("sockets.S3", ("A", "N"), 26.45, 0.0, "kettle")
SOCKETS = on_board(LINE, "sockets", "DB", device=RCD, loads=(KETTLE,))
LIGHTS = on_board(LINE, "lights", "DB", device=RCD, loads=(LAMP,))
NO_CORES = CableConstants(0.0, 0.0)


def devices(installation):
    return {device.device: device for device in protected(installation)}


def seen(*circuits, edit=None, device="sockets", constants=NO_CORES, **changes):
    """Return the residual current of a device [mA], and the ways that explain it."""
    boards = changes.pop("boards", (Board("DB", link=True),))
    installation = Installation("by hand", SUPPLY, boards, circuits, **changes)
    live = live_network(installation, constants)
    one = devices(installation)[device]
    (residual_a,) = residuals_a(live.network, one, live.potentials, [edit or {}])
    return 1000 * residual_a, ways_out(live.network, one, live.potentials, edit or {})


def joint(circuit, place, conductor, other, there, landed, r_ohm=0.0):
    ends = terminal(circuit, place, conductor), terminal(other, there, landed)
    return {("joined", place, conductor, there, landed): Branch(*ends, r_ohm)}


# -- by hand -------------------------------------------------------------------------------------


def test_a_load_between_active_and_neutral_is_none():
    residual_ma, ways = seen(SOCKETS, LIGHTS)
    assert residual_ma == pytest.approx(0, abs=1e-9)
    assert ways == ()


def test_the_cores_capacitance_leaks_to_earth():
    """230 V on 69 pF/m of 29 m, 0.14 mA, with a load or without."""
    residual_ma, ways = seen(SOCKETS, constants=CableConstants())
    assert residual_ma == pytest.approx(0.1446, rel=0.02)
    assert {way.name[0] for way in ways} == {"cores"}


def test_a_fault_to_earth_is_all_of_it():
    edit = joint(SOCKETS, "sockets.S1", "A", SOCKETS, "sockets.S1", "E", 7666.0)
    residual_ma, (way,) = seen(SOCKETS, edit=edit)
    assert residual_ma == pytest.approx(230e3 / 7666, rel=2e-2)  # the kettle drops some
    assert way.name in edit
    assert way.inside.conductor == "A"
    assert trips(residual_ma, 30.0) == "may"


def test_a_neutral_to_earth_joint_takes_a_share_of_the_load_s_current():
    """The load's return divides between its neutral, and the earth from the joint on."""
    edit = joint(SOCKETS, "sockets.S3", "N", SOCKETS, "sockets.S3", "E")
    residual_ma, (way,) = seen(SOCKETS, edit=edit)
    load_a = 230 / 26.45
    assert 0.4 * load_a < residual_ma / 1000 < 0.5 * load_a  # equal conductors, less the supply
    assert way.name in edit
    assert (way.inside.conductor, way.outside.conductor) == ("N", "E")
    assert trips(residual_ma, 30.0) == "must"


def test_a_neutral_to_earth_joint_without_a_load():
    """Nothing drives it but what other circuits drop along the PEN, which the link shorts."""
    bare = on_board(LINE, "sockets", "DB", device=RCD)
    edit = joint(bare, "sockets.S3", "N", bare, "sockets.S3", "E")
    residual_ma, _ = seen(bare, LIGHTS, edit=edit)
    assert trips(residual_ma, 30.0) == "no"


def test_a_borrowed_neutral_shows_at_both_devices():
    """The lamp of lights returns by the neutral of sockets."""
    edit = joint(LIGHTS, "lights.S3", "N", SOCKETS, "sockets.S1", "N")
    edit |= {run_branch("lights.S2..lights.S3", "N"): None}
    for device, sign in (("lights", 1), ("sockets", -1)):
        residual_ma, (way,) = seen(SOCKETS, LIGHTS, edit=edit, device=device)
        assert residual_ma == pytest.approx(230e3 / 529, rel=2e-2)
        assert sign * way.current_a.real == pytest.approx(230 / 529, rel=2e-2)
        assert way.inside.place.startswith(device)


def test_active_and_neutral_transposed_inside_are_no_residual_current():
    run = SOCKETS.runs[0].name
    landed = [Node("sockets.S1", c) for c in "NA"]
    starts = [terminal(SOCKETS, "DB", c) for c in "AN"]
    edit = {
        run_branch(run, c): Branch(start, end, 0.1)
        for c, start, end in zip("AN", starts, landed, strict=True)
    }
    residual_ma, _ = seen(SOCKETS, edit=edit)
    assert residual_ma == pytest.approx(0, abs=1e-6)


def test_conduit_beside_the_neutral_behind_a_sub_board_s_link():
    """A second link at a sub-board divides its neutral current, and the feeder's device sees it."""
    cable = Cable(10.0, 10.0, 6.0, SOCKETS.runs[0].cable.table)
    feeder = Feeder("DB", 25.0, cable, ("A",), Device("C", 40.0, 100.0))
    boards = (Board("DB", link=True), Board("SDB", link=True, feeder=feeder, residual_ma=30.0))
    circuit = on_board(LINE, "sockets", "SDB", loads=(KETTLE,))
    paths = (EarthPath("conduit", "DB", "SDB", 0.1),)
    taken = {"boards": boards, "earth_paths": paths}
    residual_ma, (way, *_) = seen(circuit, device=feeder_device("SDB"), **taken)
    assert way.name == ("link", "SDB")
    assert trips(residual_ma, 100.0) == "must"
    behind_ma, none = seen(circuit, device=residual_device("SDB"), **taken)
    assert behind_ma == pytest.approx(0, abs=1e-9)
    assert none == ()


def test_every_device_of_a_board_is_there():
    cable = Cable(10.0, 10.0, 6.0, SOCKETS.runs[0].cable.table)
    boards = (
        Board("DB", link=True, residual_ma=100.0),
        Board("SDB", link=False, feeder=Feeder("DB", 9.0, cable, ("A",))),
    )
    ring = on_board(RING, "ring", "SDB")
    installation = Installation("by hand", SUPPLY, boards, (SOCKETS, ring))
    found = devices(installation)
    assert list(found) == [residual_device("DB"), "sockets", feeder_device("SDB"), "ring"]
    assert [device.residual_ma for device in found.values()] == [100.0, 30.0, None, None]
    assert found["ring"].poles == (pole("ring", "A"), pole("ring", "N"))
    assert found["ring"].holds(terminal(ring, ring.far_end, "N"))
    assert found[feeder_device("SDB")].holds(bar("SDB", "N"))
    assert not found[feeder_device("SDB")].holds(bar("SDB", "E"))
    assert not found["sockets"].holds(terminal(ring, "SDB", "A"))
    assert found["sockets"].holds(Node("sockets.S1..sockets.S2", "N", "along"))


@pytest.mark.parametrize(
    ("residual_ma", "verdict"),
    [(0, "no"), (15, "no"), (15.1, "may"), (29.9, "may"), (30, "must"), (300, "must")],
)
def test_trips(residual_ma, verdict):
    assert trips(residual_ma, 30) == verdict


# -- Kirchhoff's law -----------------------------------------------------------------------------


@given(live_installations())
def test_what_leaves_is_what_the_poles_miss(drawn):
    """For every device of an installation, sound and with faults; switched and unplugged too."""
    live = drawn.live
    operated = drawn.probes[0].operated
    for device in protected(drawn.installation):
        several = residuals_a(live.network, device, live.potentials, drawn.edits, operated=operated)
        for edit, residual_a in zip(drawn.edits, several, strict=True):
            faulty = edited(live.network, edit)
            (through,) = currents(faulty, device.poles, live.potentials, operated=operated)
            ways = ways_out(live.network, device, live.potentials, edit, operated=operated)
            sizes = [abs(way.current_a) for way in ways]
            assert sizes == sorted(sizes, reverse=True)
            out_a = sum(way.current_a for way in ways)
            assert abs(through.sum() - out_a) <= 1e-9 * (abs(through).max() + max(sizes, default=0))
            assert residual_a == pytest.approx(abs(out_a), abs=1e-9 * abs(through).max() + 1e-15)
            assert all(device.holds(way.inside) for way in ways)
            assert not any(device.holds(way.outside) for way in ways)
