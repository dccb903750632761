"""The file of outside values itself: complete, and each value with a source."""

from collections import Counter

from tests.outside.published import entries, every_entry

KINDS = {"published", "library", "recomputed", "memory-fact"}


def test_ids_are_unique() -> None:
    assert [i for i, n in Counter(e.id for e in every_entry()).items() if n > 1] == []


def test_nothing_was_dropped() -> None:
    assert len(every_entry()) == 407
    assert {e.number for e in every_entry()} == set(range(1, 18))


def test_each_entry_names_source_place_and_kind() -> None:
    assert [e.id for e in every_entry() if not (e.source and e.seen and e.kind in KINDS)] == []


def test_what_is_called_published_was_seen_on_a_page() -> None:
    assert [e.id for e in every_entry() if e.kind == "published" and "url:" not in e.seen] == []


def test_topics_are_found_by_number() -> None:
    assert entries(1)[0].topic == "1 dew point"
    assert {e.topic for e in entries(12)} == {"12 GS1 element strings"}
