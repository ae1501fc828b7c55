"""The keeper, with doubles of all that it is handed: what it begins, tells and tries again."""

import errno
import fcntl
import os
from dataclasses import replace
from pathlib import Path

import pytest
from daemon_kit import DONE, PRESSED, SCANNED, World

from syncd import cards
from syncd.applier.identity import CardIdentity
from syncd.daemon.state import CardStage
from syncd.errors import CardProblem, SetupProblem


@pytest.fixture
def world(tmp_path: Path) -> World:
    return World(tmp_path)


def at_rest(world: World) -> World:
    """The first scan and the first pressing ahead are over."""
    world.begin()
    world.end("scan", SCANNED)
    world.end("ahead", PRESSED)
    assert world.jobs == []
    return world


def failed(kind: str, message: str) -> dict[str, str]:
    return {"event": "failed", "kind": kind, "message": message}


def test_it_scans_first_and_then_presses_ahead(world: World) -> None:
    world.begin()
    assert world.kinds() == ["scan"]
    world.end("scan", SCANNED)
    assert world.kinds() == ["ahead"]
    assert world.watch.roots == ["/music"]


def test_a_card_that_arrives_is_updated_once_and_told_of(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    mount = world.plug(kitchen)
    assert world.running("update").order["mount"] == mount.place
    assert world.stage("KITCHEN") is CardStage.UPDATING
    world.end("update", DONE)
    assert world.stage("KITCHEN") is CardStage.DONE
    assert [notice.title for notice in world.told.all] == ["KITCHEN is up to date"]
    assert "may be removed" in world.told.all[0].text
    world.pass_s(10)
    assert "update" not in world.kinds()


def test_a_card_that_is_there_at_the_start_waits_for_the_first_scan(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    world.begin()
    world.plug(kitchen)
    assert world.kinds() == ["scan"]
    world.end("scan", SCANNED)
    assert world.kinds() == ["update"]


def test_pressing_ahead_is_given_up_for_a_card_and_taken_up_after_it(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    world.begin()
    world.end("scan", SCANNED)
    ahead = world.running("ahead")
    world.plug(kitchen)
    assert ahead.stopping
    assert world.kinds() == ["ahead", "update"]
    world.end("ahead", {"event": "stopped"})
    world.end("update", DONE)
    assert world.kinds() == ["ahead"]
    assert world.running("ahead").order["plugged"] == [kitchen.id]


def test_a_change_of_the_library_is_scanned_and_goes_to_the_card_that_is_in(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    world.end("update", DONE)
    world.end("ahead", PRESSED) if "ahead" in world.kinds() else None
    world.watch.set_off()
    world.settle()
    assert world.kinds() == ["scan"]
    world.end("scan", SCANNED)
    assert world.kinds() == ["update"]
    world.end("update", DONE)
    world.watch.set_off()
    world.settle()
    if "ahead" in world.kinds():
        world.end("ahead", {"event": "stopped"})
    world.end("scan", {**SCANNED, "changed": False})
    assert "update" not in world.kinds()  # nothing changed: nothing twice


def test_a_scan_that_ends_during_an_update_brings_another_one(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    world.watch.set_off()
    world.settle()
    assert world.kinds() == ["update"]  # it has not taken its snapshot yet
    world.running("update").heard({"event": "begun"})
    assert world.kinds() == ["scan", "update"]
    world.end("scan", SCANNED)
    assert world.kinds() == ["update"]
    world.end("update", DONE)
    assert world.kinds() == ["update"]


def test_a_card_pulled_in_the_middle_is_told_and_goes_on_when_it_is_back(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    place = world.plug(kitchen).place
    job = world.running("update")
    world.unplug(place)
    assert job.stopping
    world.end("update", failed("gone", "The card KITCHEN went away. Plug it in again."))
    assert world.told.all[-1].title == "KITCHEN is not up to date"
    assert "Plug it in again" in world.told.all[-1].text
    assert world.stage("KITCHEN") is CardStage.AWAY
    world.plug(kitchen, "/media/me/OTHER NAME", "another slot")
    assert world.running("update").order["mount"] == "/media/me/OTHER NAME"


def test_a_card_that_is_back_before_its_job_has_ended_waits_for_that(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    place = world.plug(kitchen).place
    world.unplug(place)
    world.plug(kitchen)
    assert world.kinds().count("update") == 1
    world.end("update", {"event": "stopped"})
    assert world.kinds().count("update") == 1
    world.end("update", DONE)
    assert world.stage("KITCHEN") is CardStage.DONE


def test_unmounting_at_the_end_is_not_taken_for_a_pull(world: World) -> None:
    kitchen = world.enrolled("KITCHEN", unmount=True)
    at_rest(world)
    place = world.plug(kitchen).place
    job = world.running("update")
    job.heard({"event": "unmounting"})
    world.unplug(place)
    assert not job.stopping
    world.end("update", DONE, unmounted=True)
    assert "unmounted and may be removed" in world.told.all[-1].text
    assert "may be removed" in world.card("KITCHEN").message
    assert world.stage("KITCHEN") is CardStage.AWAY


def test_what_could_not_be_unmounted_is_told_with_the_remedy(world: World) -> None:
    kitchen = world.enrolled("KITCHEN", unmount=True)
    at_rest(world)
    world.plug(kitchen)
    world.end("update", DONE, unmount_problem="It is in use. Eject it yourself.")
    assert world.told.all[-1].urgent
    assert "Eject it yourself" in world.told.all[-1].text


def test_two_cards_are_updated_at_once(world: World) -> None:
    kitchen, shed = world.enrolled("KITCHEN"), world.enrolled("SHED")
    at_rest(world)
    world.plug(kitchen)
    world.plug(shed)
    assert [job.order["name"] for job in world.jobs] == ["KITCHEN", "SHED"]


def test_a_card_that_fails_is_told_once_and_tried_again_with_growing_pauses(world: World) -> None:
    kitchen, shed = world.enrolled("KITCHEN"), world.enrolled("SHED")
    at_rest(world)
    world.plug(kitchen)
    begun = []
    for _ in range(4):
        world.end("update", failed("card", "The card KITCHEN is read-only."))
        assert world.stage("KITCHEN") is CardStage.FAILED
        start = world.clock.now
        while "update" not in world.kinds():
            world.pass_s(1.0)
            if "ahead" in world.kinds():
                world.end("ahead", PRESSED)
        begun.append(world.clock.now - start)
    assert begun == sorted(begun) and begun[-1] > begun[0] * 4
    assert len(world.told.all) == 1
    world.plug(shed)
    assert sorted(job.order["name"] for job in world.jobs) == ["KITCHEN", "SHED"]


def test_a_card_in_use_by_a_command_waits_without_a_word(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    world.end("update", failed("busy", "Another syncd is at work on the card KITCHEN."))
    assert world.stage("KITCHEN") is CardStage.BUSY
    assert world.told.all == []
    world.pass_s(5)
    assert "update" in world.kinds()


def test_a_scan_that_fails_ends_nothing_and_is_tried_again(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    world.begin()
    world.end("scan", failed("setup", "The index is damaged. Remove it."))
    assert "The index is damaged. Remove it." in world.keeper.state.problems
    world.plug(kitchen)
    assert "update" in world.kinds()
    world.end("update", DONE)
    world.pass_s(31)
    assert "scan" in world.kinds()


def test_a_card_that_asks_first_is_told_of_and_not_touched(world: World) -> None:
    kitchen = world.enrolled("KITCHEN", auto="ask first")
    at_rest(world)
    world.plug(kitchen)
    assert "update" not in world.kinds()
    assert world.stage("KITCHEN") is CardStage.ASKING
    assert "syncd update KITCHEN" in world.told.all[0].text


def test_an_unknown_volume_is_named_and_no_job_goes_there(world: World) -> None:
    at_rest(world)
    world.table.mount("/media/me/STICK")
    world.settle()
    assert world.jobs == []
    assert "syncd enrol /media/me/STICK" in world.keeper.state.unknown[0].message


def test_a_volume_that_is_enrolled_later_is_updated_then(world: World) -> None:
    at_rest(world)
    kitchen = world.enrolled("KITCHEN")  # by a command meanwhile
    world.plug(kitchen)
    assert world.jobs == []
    world.keeper.look_round()
    world.settle()
    assert "update" in world.kinds()


def test_a_copy_of_a_card_is_told_once_and_left_alone(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    first = world.plug(kitchen)
    world.end("update", DONE)
    world.plug(kitchen, "/media/me/COPY", "another medium")
    assert "update" not in world.kinds()
    assert [notice.title for notice in world.told.all] == [
        "KITCHEN is up to date",
        "A card is here twice",
    ]
    world.pass_s(61)
    assert len(world.told.all) == 2
    assert world.card("KITCHEN").mount == first.place


def test_a_volume_that_appears_slowly_is_looked_at_again(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.ids["8:9"] = "It does not answer yet."
    world.table.mount("/media/me/SLOW", "8:9")
    world.settle()
    assert "It does not answer yet." in world.keeper.state.unknown[0].message
    from syncd.applier.identity import CardIdentity

    world.ids["8:9"] = CardIdentity(kitchen.id, kitchen.name)
    world.pass_s(1)
    assert "update" in world.kinds()


def test_a_broken_edit_of_the_settings_is_told_and_the_old_ones_stay(world: World) -> None:
    world.home.settings_file.write_text("workers = 3\n")
    at_rest(world)
    world.home.settings_file.write_text("workers = 'many'\n")
    world.keeper.look_round()
    world.settle()
    assert world.keeper.house.settings.workers == 3
    assert world.keeper.house.for_jobs.settings().workers == 3
    assert "workers" in world.told.all[-1].text
    assert any("stay in force" in text for text in world.keeper.state.problems)
    world.home.settings_file.write_text("workers = 5\n# mended\n")
    world.keeper.look_round()
    world.settle()
    assert world.keeper.house.settings.workers == 5
    assert world.keeper.house.for_jobs.settings().workers == 5
    assert world.keeper.state.problems == ()


def no_room(world: World, monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """From now on the state's folder is full."""
    write = Path.write_bytes

    def full(path: Path, data: bytes) -> int:
        if path.is_relative_to(world.home.state):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return write(path, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    return monkeypatch


def test_settings_that_found_no_room_are_taken_up_when_there_is_some(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_rest(world)
    world.home.settings_file.write_text("workers = 5\n")
    with monkeypatch.context() as short:
        no_room(world, short)
        world.keeper.look_round()
        world.settle()
        assert any("No space left" in text for text in world.keeper.state.problems)
        assert world.keeper.house.settings.workers is None
    world.keeper.look_round()
    world.settle()
    assert world.keeper.house.for_jobs.settings().workers == 5
    assert world.keeper.state.problems == ()


def test_it_starts_on_a_full_disk_and_tells(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as short:
        no_room(world, short)
        at_rest(world)
        (told,) = world.keeper.state.problems
        assert "No space left" in told
    world.keeper.look_round()
    world.settle()
    assert world.keeper.state.problems == ()


def test_what_every_scan_tells_is_logged_once_and_shown_as_long_as_it_lasts(
    world: World, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    at_rest(world)
    blind = "The folder /music/x cannot be looked into (Permission denied)."
    for notices in ([blind], [blind], [], [blind]):
        world.watch.set_off()
        world.settle()
        world.end("scan", SCANNED, changed=False, notices=notices)
        assert world.keeper.state.library.notices == tuple(notices)
    assert caplog.text.count(blind) == 2
    world.watch.set_off()
    world.settle()
    many = [f"The folder /music/{n} cannot be looked into." for n in range(12)]
    away = "The library's root /more is away (gone); nothing under it is forgotten."
    world.end("scan", SCANNED, roots=["/music", "/more"], away=["/more"], notices=[away, *many])
    shown = world.keeper.state.library.notices
    assert shown[:10] == tuple(many[:10]) and shown[10:] == (
        "There are 2 more; 'syncd scan' lists them.",
    )


def test_a_card_that_waits_to_be_asked_for_waits_again_when_there_is_something_new(
    world: World,
) -> None:
    kitchen = world.enrolled("KITCHEN", auto="ask first")
    at_rest(world)
    world.plug(kitchen)
    world.keeper.update_card("KITCHEN")
    world.settle()
    world.end("update", DONE)
    assert world.stage("KITCHEN") is CardStage.DONE
    world.watch.set_off()
    world.settle()
    world.end("scan", SCANNED)
    assert "update" not in world.kinds()
    assert world.stage("KITCHEN") is CardStage.ASKING
    assert "syncd update KITCHEN" in world.card("KITCHEN").message


def test_a_card_that_is_to_be_asked_for_from_now_on_is_not_tried_again(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    world.end("update", failed("card", "It is read-only."))
    cards.save(world.home, replace(kitchen, auto="ask first"))
    world.keeper.look_round()
    world.settle()
    world.pass_s(61)
    assert "update" not in world.kinds()
    assert world.stage("KITCHEN") is CardStage.ASKING


def test_what_nothing_can_be_made_for_is_shown_while_it_is_away_and_logged_once(
    world: World, caplog: pytest.LogCaptureFixture
) -> None:
    kitchen = world.enrolled("KITCHEN")
    world.begin()
    for again in (False, True):
        if again:
            world.watch.set_off()
            world.settle()
        world.end("scan", SCANNED)
        world.end("ahead", PRESSED, problems={"KITCHEN": "Its profile is gone.", "SHED": "So?"})
        assert world.keeper.state.problems == ("KITCHEN: Its profile is gone.",)
    assert caplog.text.count("KITCHEN: Its profile is gone.") == 1
    world.plug(kitchen)
    assert world.keeper.state.problems == ()  # its update will tell
    world.end("update", DONE)
    world.unplug("/media/me/KITCHEN")
    world.end("ahead", PRESSED)
    assert world.keeper.state.problems == ()


def test_wrong_settings_at_the_start_are_told_at_once(world: World) -> None:
    world.home.settings_file.write_text("worker = 1\n")
    with pytest.raises(SetupProblem, match="worker"):
        world.begin()


def test_the_lock_at_home_is_held_while_a_job_runs_and_free_at_rest(world: World) -> None:
    world.begin()
    assert world.home.try_lock() is None
    world.end("scan", SCANNED)
    world.end("ahead", PRESSED)
    with world.home.only_writer():
        world.watch.set_off()
        world.settle()
        assert world.jobs == []
    world.pass_s(6)
    assert world.kinds() == ["scan"]


def test_a_command_is_given_way_to_and_the_work_goes_on_after_it(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    given: list[int] = []

    def take() -> None:
        fd = world.home.try_lock()
        assert fd is not None
        given.append(fd)

    world.keeper.give_way(take)
    world.settle()
    assert world.running("update").stopping and not given
    world.end("update", {"event": "stopped"})
    assert len(given) == 1
    world.pass_s(30)
    assert world.jobs == []  # the command is still at work
    os.close(given[0])
    world.pass_s(6)
    assert "update" in world.kinds()


def test_stopping_asks_every_job_and_ends_with_the_last(world: World) -> None:
    world.enrolled("KITCHEN")
    world.begin()
    world.keeper.stop()
    world.settle()
    assert world.running("scan").stopping
    assert not world.loop._stopped
    world.end("scan", {"event": "stopped"})
    assert world.loop._stopped
    fcntl.flock(os.open(world.home.state / "lock", os.O_RDWR), fcntl.LOCK_EX | fcntl.LOCK_NB)


def test_a_job_that_hangs_does_not_keep_the_daemon_from_ending(world: World) -> None:
    world.begin()
    world.keeper.stop()
    world.settle()
    world.pass_s(4.6)
    assert world.loop._stopped


def test_a_programme_that_was_edited_brings_its_card_up_to_date(
    world: World, tmp_path: Path
) -> None:
    programme = tmp_path / "programme.toml"
    programme.write_text("format = 1\n")
    kitchen = world.enrolled("KITCHEN", programme=str(programme))
    at_rest(world)
    world.plug(kitchen)
    world.end("update", DONE)
    while "ahead" in world.kinds():
        world.end("ahead", PRESSED)
    programme.write_text("format = 1\n# other\n")
    world.keeper.look_round()
    world.settle()
    assert "update" in world.kinds()


def test_where_a_card_was_last_seen_is_no_reason_to_update_it_again(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    mount = world.plug(kitchen)
    from dataclasses import replace

    cards.save(world.home, replace(kitchen, mount=mount.place))
    world.end("update", DONE)
    world.keeper.look_round()
    world.settle()
    assert "update" not in world.kinds()


def test_a_volume_that_was_seen_before_it_was_enrolled_becomes_a_card(world: World) -> None:
    """Found on a machine that ran: the volume had been looked at when it was mounted."""
    at_rest(world)
    world.table.mount("/media/me/NEW", "dev new")
    world.settle()
    assert [volume.mount for volume in world.keeper.state.unknown] == ["/media/me/NEW"]
    record = world.enrolled("NEW", mount="/media/me/NEW")
    world.ids["dev new"] = CardIdentity(record.id, record.name)
    world.keeper.look_round()
    world.settle()  # it looks round
    world.settle()  # the volume has answered
    assert world.keeper.state.unknown == ()
    assert world.card("NEW").mount == "/media/me/NEW"
    if "ahead" in world.kinds():
        world.end("ahead", {"event": "stopped"})
    assert world.running("update").order["card_id"] == record.id


def test_a_card_that_is_enrolled_or_gets_a_new_id_while_it_is_plugged_in_is_updated(
    world: World,
) -> None:
    """The daemon had looked at it before; on a mount nothing tells of a file that changes."""
    at_rest(world)
    mount = world.table.mount("/media/me/NEW", "dev NEW")
    world.settle()
    for name in ("NEW", "OTHER"):
        record = world.enrolled(name)
        world.ids[mount.device] = CardIdentity(record.id, record.name)
        world.keeper.look_round()
        world.settle()
        world.settle()
        assert world.running("update").order["card_id"] == record.id
        world.end("update", DONE)


def test_a_root_that_is_away_is_scanned_when_a_volume_comes(world: World) -> None:
    world.begin()
    world.end("scan", {**SCANNED, "away": ["/media/me/DISK/music"]})
    world.end("ahead", PRESSED)
    world.table.mount("/media/me/DISK", kind="ext4")
    world.settle()
    assert world.kinds() == ["scan"]


def test_a_root_that_is_away_is_not_scanned_for_at_every_look_round(world: World) -> None:
    """When it comes back, its watch or the mount table tells."""
    world.begin()
    world.end("scan", {**SCANNED, "away": ["/media/me/DISK/music"]})
    world.end("ahead", PRESSED)
    for _ in range(3):
        world.keeper.look_round()
        world.settle()
    assert world.kinds() == []


def test_files_of_just_now_wait_at_the_start_and_are_scanned_when_they_rest(world: World) -> None:
    """A rip may have begun before the daemon did."""
    world.begin()
    assert world.running("scan").order["young_s"] == 60.0
    world.end("scan", {**SCANNED, "waits_s": 40.0})
    world.end("ahead", PRESSED)
    assert world.keeper.state.library.scan_due
    world.pass_s(30)
    assert world.kinds() == []
    world.pass_s(12)
    assert world.running("scan").order["young_s"] == 60.0
    world.end("scan", {**SCANNED, "waits_s": 0.0})
    world.watch.set_off()
    world.settle()
    world.end("ahead", {"event": "stopped"})
    assert world.running("scan").order["young_s"] == 0.0  # from now on the watch knows better


def test_a_root_whose_name_has_odd_bytes_is_watched_by_its_name(world: World) -> None:
    world.begin()
    world.running("scan").heard({"event": "begun", "roots": ["/music \udcff"]})
    assert world.watch.roots == ["/music \udcff"]
    assert os.fsencode(world.watch.roots[0]) == b"/music \xff"


def test_a_root_that_comes_back_as_it_was_makes_cards_due(world: World) -> None:
    """They may have gone without what could not be read meanwhile."""
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    world.end("update", DONE)
    for away in (["/media/me/DISK/music"], []):
        world.watch.set_off()
        world.settle()
        if "ahead" in world.kinds():
            world.end("ahead", {"event": "stopped"})
        world.end("scan", {**SCANNED, "changed": False, "away": away})
        world.end("update", DONE)


def test_an_update_of_an_outdated_library_is_made_again_after_a_scan(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    tries = []
    for _ in range(3):
        world.end("update", DONE, outdated=True, left_out=1)
        start = world.clock.now
        while "update" not in world.kinds():
            world.pass_s(0.5)
            for kind, end in (("scan", {**SCANNED, "changed": False}), ("ahead", PRESSED)):
                if kind in world.kinds():
                    world.end(kind, end)
        tries.append(world.clock.now - start)
    assert tries == sorted(tries) and tries[-1] > tries[0]  # it may stay so: less and less often
    world.end("update", DONE)
    world.pass_s(3600)
    assert "update" not in world.kinds()


def test_how_long_it_will_take_still_is_reckoned_from_how_long_it_took(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    job = world.running("update")
    job.heard({"event": "progress", "stage": "write", "done": 0, "total": 4, "bytes_done": 0,
               "bytes_total": 400, "item": ""})  # fmt: skip
    world.clock.now += 10
    job.heard({"event": "progress", "stage": "write", "done": 1, "total": 4, "bytes_done": 100,
               "bytes_total": 400, "item": "x"})  # fmt: skip
    doing = world.card("KITCHEN").doing
    assert doing is not None
    assert doing.left_s == pytest.approx(30)


def test_a_card_that_asks_first_is_updated_when_it_is_asked_for(world: World) -> None:
    kitchen = world.enrolled("KITCHEN", auto="ask first")
    world.enrolled("SHED")
    at_rest(world)
    place = world.plug(kitchen).place
    for name in ("kitchen", kitchen.id, place):
        assert world.keeper.update_card(name) == "KITCHEN"
        world.settle()
        world.end("update", DONE)
        world.watch.set_off()
        world.settle()
        if "ahead" in world.kinds():
            world.end("ahead", {"event": "stopped"})
        world.end("scan", SCANNED)
        assert "update" not in world.kinds()
    with pytest.raises(CardProblem, match="SHED is not plugged in"):
        world.keeper.update_card("SHED")
    with pytest.raises(SetupProblem, match="No card is called 'ATTIC'"):
        world.keeper.update_card("ATTIC")


def test_paused_it_stops_what_it_does_and_begins_nothing_until_it_goes_on(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    world.keeper.pause(True)
    world.settle()
    assert world.running("update").stopping
    world.end("update", {"event": "stopped"})
    world.pass_s(100)
    assert world.jobs == [] and world.keeper.state.paused
    world.keeper.pause(False)
    world.settle()
    assert world.kinds() == ["update"]


def test_what_a_scan_took_in_before_it_was_cut_short_reaches_the_cards(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    world.end("update", DONE)
    while "ahead" in world.kinds():
        world.end("ahead", PRESSED)
    for cut in ({"event": "stopped"}, failed("fault", "It was killed.")):
        world.watch.set_off()
        world.settle()
        world.end("scan", cut)
        while "scan" not in world.kinds():
            if "ahead" in world.kinds():
                world.end("ahead", PRESSED)
            world.pass_s(10)
        world.end("scan", {**SCANNED, "changed": False})  # the index has it all already
        assert "update" in world.kinds()
        world.end("update", DONE)
        while "ahead" in world.kinds():
            world.end("ahead", PRESSED)


def test_what_a_command_scanned_reaches_the_card_that_is_in(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)
    world.plug(kitchen)
    world.end("update", DONE)
    while "ahead" in world.kinds():
        world.end("ahead", PRESSED)
    world.home.index_file.write_bytes(b"as a command left it")
    world.keeper.look_round()
    world.settle()
    world.end("scan", {**SCANNED, "changed": False})
    assert world.kinds() == ["update"]


def test_a_process_that_cannot_be_begun_is_told_and_tried_again(world: World) -> None:
    kitchen = world.enrolled("KITCHEN")
    at_rest(world)

    def no_memory(*_: object) -> None:
        raise OSError(errno.ENOMEM, os.strerror(errno.ENOMEM))

    begin, world.keeper._make_job = world.keeper._make_job, no_memory  # type: ignore[assignment]
    world.plug(kitchen)
    assert world.stage("KITCHEN") is CardStage.FAILED
    assert "Cannot allocate memory" in world.card("KITCHEN").message
    fd = world.home.try_lock()
    assert fd is not None
    os.close(fd)
    world.keeper._make_job = begin
    world.pass_s(3)
    assert "update" in world.kinds()
