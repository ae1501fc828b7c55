"""Programmes from the outside: checked when a card is enrolled, told and tried by ``plan``."""

from pathlib import Path

from cli_kit import Program


def written(program: Program, name: str, text: str) -> Path:
    path = program.base / name
    path.write_text(text, "utf-8")
    return path


def test_a_plan_tells_what_each_clause_took(program: Program) -> None:
    file = written(
        program,
        "p.toml",
        '[[clause]]\nname = "Works"\nkind = "work"\n[[clause]]\ncomposer = "Xylanderov"\n'
        "[[clause]]\neverything = true\n[clause.limit]\nhours = 0.0001\n",
    )
    assert program("enrol", program.card, "--profile", "mcu-mp3", "--programme", file).status == 0
    words = program("plan", "KITCHEN").out
    assert "By its programme:" in words
    assert "1. Works: " in words
    assert "No composer “Xylanderov” is in the library." in words
    told = program("plan", "KITCHEN", "--json").document["programme"]
    works, nobody, rest = told["clauses"]
    assert works["title"] == "Works"
    assert works["taken"] == works["fitting"] > 0
    assert works["bytes"] > 0 and works["hours"] > 0
    assert (nobody["taken"], nobody["title"]) == (0, "composer Xylanderov")
    assert rest["earlier"] == works["taken"]
    assert rest["taken"] == 0
    assert all(item["reason"].endswith("hours.") for item in rest["beyond_limit"])


def test_another_programme_is_tried_and_changes_nothing(program: Program) -> None:
    file = written(program, "p.toml", '[[clause]]\nkind = "popular"\n')
    before = program("plan", "KITCHEN", "--json").document
    assert "programme" not in before
    tried = program("plan", "KITCHEN", "--programme", file, "--json").document
    assert tried["programme"]["unchosen"] > 0
    assert len(tried["steps"]) < len(before["steps"])
    assert program("plan", "KITCHEN", "--json").document["steps"] == before["steps"]


def test_what_a_programme_says_wrongly_is_told_with_the_line(program: Program) -> None:
    file = written(program, "p.toml", '[[clause]]\nform = "sonatta"\n')
    for arguments in (
        ("plan", "KITCHEN", "--programme", file),
        ("enrol", program.card, "--profile", "mcu-mp3", "--programme", file),
    ):
        ran = program(*arguments)
        assert ran.status == 2
        assert "line 2: 'clause[1].form'" in ran.err
        assert "did you mean 'Sonata'?" in ran.err
        assert ran.out == ""


def test_the_listener_s_own_words_choose_by_way_of_the_errata(program: Program) -> None:
    some = program("plan", "KITCHEN", "--json", "--tracks").document["tracks"][0]["source"]
    folder = str(Path(some).parent)
    added = program("errata", "add", "--folder", folder, "--tags", "Sunday")
    assert added.status == 0, added.err
    file = written(program, "p.toml", '[[clause]]\ntag = "sunday"\n')
    told = program("plan", "KITCHEN", "--programme", file, "--json", "--tracks").document
    assert told["tracks"]
    assert {str(Path(track["source"]).parent) for track in told["tracks"]} == {folder}


def test_enrolling_again_keeps_the_programme_until_everything_is_wished_for(
    program: Program,
) -> None:
    file = program.base / "programme.toml"
    file.write_text('[[clause]]\nkind = "popular"\n', "utf-8")
    first = program("enrol", program.card, "--profile", "mcu-mp3", "--programme", file)
    assert f"Its programme: {file}" in first.out
    again = ("enrol", program.card, "--profile", "mcu-mp3", "--json")
    assert program(*again, "--unmount").document["programme"] == str(file)
    assert "By its programme:" in program("plan", "KITCHEN").out
    assert program(*again, "--everything").document["programme"] is None
    assert "By its programme:" not in program("plan", "KITCHEN").out
    both = program(*again, "--everything", "--programme", file)
    assert both.status == 2
    assert "exclude each other" in both.err
