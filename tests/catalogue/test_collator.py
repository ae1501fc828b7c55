"""The table that is read as letters come up, against the same library's that was read at once."""

from pyuca.collator import Collator_9_0_0

from syncd.catalogue.collator import all_letters, collator


def _flat(node, so_far=()):
    yield so_far, node.value
    for code, below in (node.children or {}).items():
        yield from _flat(below, (*so_far, code))


def test_the_table_read_by_letters_is_the_one_read_at_once():
    whole = Collator_9_0_0()
    ours = collator()
    all_letters(ours)
    assert dict(_flat(ours.table.root)) == dict(_flat(whole.table.root))
    assert ours.implicit_weights == whole.implicit_weights


def test_a_word_has_the_weights_that_the_whole_table_gives_it():
    words = [
        "Dvořák",
        "Ångström",
        "L·L",
        "Ελένη",
        "Чайковский",
        "武満徹",
        "한글",
        "𝄞",
        "",
        "\u0cc6\u0cc2",
    ]
    whole, ours = Collator_9_0_0(), collator()
    for word in words:
        assert ours.sort_key(word) == whole.sort_key(word)


def test_only_letters_that_came_up_are_read():
    ours = collator()
    ours.sort_key("banana")
    assert sorted(ours.table.root.children) == [ord(letter) for letter in "abn"]
