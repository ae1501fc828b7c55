"""Which volume is which card."""

from syncd.applier.identity import CardIdentity
from syncd.cards import CardRecord
from syncd.daemon.arrivals import Sighting
from syncd.daemon.mounts import Mount
from syncd.daemon.presence import presence

KITCHEN = CardRecord("k", "KITCHEN", "mcu-mp3", mount="/media/me/KITCHEN")
SHED = CardRecord("s", "SHED", "mcu-mp3")


def stick(place: str, device: str, kind: str = "vfat") -> Mount:
    return Mount(place, kind, device, f"{place} {device}")


def card(record: CardRecord, place: str, device: str) -> Sighting:
    return Sighting(stick(place, device), CardIdentity(record.id, record.name))


def test_a_card_is_known_by_its_id_in_whatever_slot_and_under_whatever_name() -> None:
    seen = Sighting(stick("/media/me/NO NAME", "8:17"), CardIdentity("k", "OTHER"))
    found = presence([seen], [KITCHEN, SHED], {})
    assert found.at == {"k": seen.mount}
    assert found.unknown == ()


def test_one_volume_that_is_mounted_twice_is_one_card_where_it_was_last_seen() -> None:
    twice = [card(KITCHEN, "/media/me/KITCHEN", "8:1"), card(KITCHEN, "/a", "8:1")]
    found = presence(twice, [KITCHEN], {})
    assert found.at == {"k": twice[0].mount}
    assert not found.twice and not found.copies


def test_it_stays_where_it_was_when_it_is_mounted_at_another_place_as_well() -> None:
    first, second = card(KITCHEN, "/z", "8:1"), card(KITCHEN, "/media/me/KITCHEN", "8:1")
    assert presence([first, second], [KITCHEN], {"k": first.mount}).at == {"k": first.mount}


def test_of_two_volumes_with_one_id_the_first_goes_on_and_the_copy_is_told() -> None:
    first, copy = card(KITCHEN, "/z", "8:1"), card(KITCHEN, "/media/me/KITCHEN", "8:2")
    found = presence([copy, first], [KITCHEN], {"k": first.mount})
    assert found.at == {"k": first.mount}
    (text,) = found.copies.values()
    assert "/media/me/KITCHEN bears the id of the card KITCHEN" in text
    assert "syncd enrol /media/me/KITCHEN --new-id --profile NAME --name TEXT" in text


def test_of_two_that_came_at_once_none_is_touched_and_both_are_told() -> None:
    both = [card(KITCHEN, "/a", "8:1"), card(KITCHEN, "/b", "8:2")]
    found = presence(both, [KITCHEN], {})
    assert found.at == {}
    assert "/a and /b" in found.twice["k"]
    alone = presence(both[1:], [KITCHEN], {})
    assert alone.at == {"k": both[1].mount} and not alone.twice


def test_an_unknown_volume_is_named_with_the_way_to_enrol_it() -> None:
    found = presence([Sighting(stick("/media/me/NEW ONE", "8:3"))], [KITCHEN], {})
    (told,) = found.unknown
    assert "syncd enrol '/media/me/NEW ONE' --profile NAME" in told.message


def test_a_card_of_another_home_is_left_alone_and_named() -> None:
    other = Sighting(stick("/media/me/X", "8:3"), CardIdentity("x", "GUEST"))
    found = presence([other], [KITCHEN], {})
    assert found.at == {}
    assert "GUEST at /media/me/X was enrolled at another home" in found.unknown[0].message


def test_disks_of_the_system_are_not_taken_for_volumes_that_want_to_be_enrolled() -> None:
    mounts = [("/", "ext4"), ("/home", "btrfs"), ("/boot/efi", "vfat"), ("/tmp", "tmpfs")]
    seen = [Sighting(stick(place, place, kind)) for place, kind in mounts]
    assert presence(seen, [], {}).unknown == ()
    for place in ("/media/me/disk", "/run/media/me/disk", "/mnt/stick", "/Volumes/disk"):
        assert presence([Sighting(stick(place, "8:1", "ext4"))], [], {}).unknown


def test_what_is_wrong_with_a_volume_is_told_in_its_words() -> None:
    broken = Sighting(stick("/media/me/X", "8:3"), problem="The card X gives an error.")
    assert presence([broken], [], {}).unknown[0].message == "The card X gives an error."
