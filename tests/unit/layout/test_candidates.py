"""Where a port may be tried, and why not elsewhere."""

import pytest

from soakline.fluid.posture import parse_posture
from soakline.layout.candidates import down_deg, find_places
from soakline.layout.placing import place_port
from soakline.layout.ports import check_ports
from soakline.wound.body import frame_of
from soakline.wound.measurements import Assumptions, KeepClear, Opening, Tunnel, Undermining, Wound
from soakline.wound.sheet import lay_flat

SUPINE = (parse_posture("supine"),)
ALL_ROUND = (Undermining(12, 12, reach_cm=6.0, height_cm=1.5),)


def wound(face="front", undermining=ALL_ROUND, **more):
    return Wound(face, "trunk", Opening(6.0, 6.0, 3.0), girth_cm=100.0, undermining=undermining, **more)


def places(made, postures=SUPINE, curvature="girth"):
    return find_places(lay_flat(made), frame_of(made, Assumptions(curvature=curvature)), postures)


def test_a_pocket_all_round_gives_about_sixty_places_at_hours_and_half_hours():
    ports = places(wound()).ports
    assert len(ports) == 12 + 24 + 24 + 1 + 4
    assert len({port.name for port in ports}) == len(ports)
    assert ports[0].name == "over the middle of the opening"


def test_every_place_stands_as_an_entry_of_a_case_file():
    made = wound(tunnel=(Tunnel(4, 5.0, 1.0, 10.0),), keep_clear=(KeepClear("bowel under mesh", 1, 2.0, 1.0),))
    assert check_ports(places(made).ports, lay_flat(made)) == []


def test_a_place_is_given_to_half_a_centimetre():
    assert {port.from_edge_cm * 2.0 % 1.0 for port in places(wound()).ports} == {0.0}


def test_a_place_whose_foam_would_touch_a_structure_is_left_out_with_its_name():
    kept = places(wound(keep_clear=(KeepClear("bowel under mesh", 3, 3.0, 1.0),)))
    (why,) = {one.why for one in kept.excluded}
    assert why == "port or its foam would touch a structure to keep clear (bowel under mesh)"
    assert "3 o'clock, middle third" in {one.zone for one in kept.excluded}
    assert "9 o'clock, middle third" in {port.name for port in kept.ports}


def test_nothing_is_left_under_the_body():
    everything = places(wound("back", undermining=(Undermining(clock=12, reach_cm=6.0, height_cm=1.5),)))
    assert everything.ports == ()
    assert {one.why for one in everything.excluded if one.zone.endswith("third")} == {"lain on when supine"}


def test_lying_on_the_side_at_thirty_degrees_frees_the_middle_of_the_back():
    made = wound("back")
    frame = frame_of(made, Assumptions())
    assert down_deg(0.0, frame, parse_posture("left 30")) == pytest.approx(30.0)
    assert places(made, (parse_posture("left 30"),)).at_opening is not None


def test_a_pocket_smaller_than_a_port_is_left_out_with_its_reach():
    short = places(wound(undermining=(Undermining(1, 5, reach_cm=0.6, height_cm=1.5),)))
    assert {one.why for one in short.excluded if "third" in one.zone} == {
        "the pocket runs 0.6 cm there: smaller than the foam round a port"
    }


def test_where_there_is_no_pocket_no_place_is_tried():
    made = wound(undermining=(Undermining(2, 5, reach_cm=6.0, height_cm=1.5),))
    assert all(port.from_edge_cm < 0.0 or 2 < port.clock < 5 for port in places(made).ports)
    assert places(made).excluded[-1].why == "no pocket there"


def test_a_tube_that_would_pass_a_structure_gets_an_exit_of_its_own():
    made = wound(keep_clear=(KeepClear("bowel under mesh", 3, 1.5, 0.5),))
    sheet, frame = lay_flat(made), frame_of(made, Assumptions())
    far = {port.name: port for port in places(made).ports}
    placed = place_port(far["3 o'clock, deepest third"], sheet, frame, SUPINE)
    assert placed.tube.startswith("not straight to the opening: that would pass bowel under mesh")
    assert placed.tube.endswith("about 1.5 cm of skin and fat")
    assert "about 3 cm away" in placed.keeps_clear
    free = place_port(far["9 o'clock, deepest third"], sheet, frame, SUPINE)
    assert free.tube == "about 5 cm under the skin, straight to the opening's edge at 9 o'clock"
    assert "one piece under the port and one over it" in free.foam


def test_foam_is_not_pushed_into_a_tunnel():
    made = wound(tunnel=(Tunnel(4, 5.0, 1.0, 10.0),))
    port = places(made).ports[-1]
    placed = place_port(port, lay_flat(made), frame_of(made, Assumptions()), SUPINE)
    assert (placed.foam, placed.outline) == ("no foam pushed into the tunnel", ())
