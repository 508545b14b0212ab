#include "records/schema/entry.hpp"

#include <doctest/doctest.h>

#include <random>

#include "records/schema/text_form.hpp"

using namespace phasewright::schema;

namespace {
Entry example() {
    Entry entry{.previous = sha256("before"),
                .job = std::string(32, '5'),
                .device = std::string(32, '9'),
                .number = 12};
    auto const draft =
        in_order({.time = "2026-11-25T10:20:00+01:00",
                  .kind = Kind::reading,
                  .by = "Ada Marlow",
                  .point = "gate",
                  .blobs = {{sha256("{}"), "text/plain", 2, "gate 1.jsonl"}},
                  .fields = {number_field("u.l1", 230.4), {"note", "two\nlines \\ and a\ttab, cosφ"}}});
    REQUIRE(draft);
    entry.said = *draft;
    return entry;
}
}  // namespace

TEST_CASE("an entry is the text that the reference page shows, and reads back") {
    auto const entry = example();
    auto const text = canonical_text(entry);
    CHECK(text ==
          "phasewright entry 1\n"
          "previous " +
              hex_of(sha256("before")) +
              "\n"
              "job 55555555555555555555555555555555\n"
              "device 99999999999999999999999999999999\n"
              "number 12\n"
              "time 2026-11-25T10:20:00+01:00\n"
              "kind reading\n"
              "by Ada Marlow\n"
              "point gate\n"
              "blob 44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a text/plain 2 gate "
              "1.jsonl\n"
              "field note two\\nlines \\\\ and a\\ttab, cosφ\n"
              "field u.l1 230.4\n");
    auto const back = entry_of(text);
    REQUIRE(back);
    CHECK(*back == entry);
}

TEST_CASE(
    "no other text is an entry: a byte dropped, doubled or swapped is refused or is another entry's text") {
    auto const text = canonical_text(example());
    for (std::size_t at = 0; at < text.size(); ++at) {
        std::string dropped = text, doubled = text;
        dropped.erase(at, 1);
        doubled.insert(at, 1, text[at]);
        for (auto const& changed : {dropped, doubled, text.substr(0, at)}) {
            auto const entry = entry_of(changed);
            if (entry) CHECK(canonical_text(*entry) == changed);
        }
        CHECK(!entry_of(text.substr(0, at) + '\0' + text.substr(at)));
    }
    CHECK(!entry_of(text + "\n"));
    CHECK(!entry_of(text + "field a first\n"));     // out of order
    CHECK(!entry_of(text + "field u.l1 230.5\n"));  // twice
    CHECK(!entry_of("phasewright entry 2\n" + text.substr(20)));
    CHECK(entry_of(text + "field z last\n"));
}

TEST_CASE("any bytes are refused or an entry, never a crash, with a fixed seed") {
    std::mt19937 dice(20261125);
    auto const text = canonical_text(example());
    for (int k = 0; k < 20000; ++k) {
        auto changed = text;
        for (unsigned n = dice() % 4 + 1; n > 0; --n)
            changed[dice() % changed.size()] = static_cast<char>(dice() % 256);
        auto const entry = entry_of(changed);
        if (entry) CHECK(canonical_text(*entry) == changed);
    }
}

TEST_CASE("what cannot stand in an entry is refused") {
    Draft const good{.time = "2026-11-25T10:20:00Z"};
    CHECK(in_order(good));
    for (auto const* const time :
         {"", "2026-11-25", "2026-11-25T10:20Z", "2026-11-25T10:20:00", "2026-02-29T00:00:00Z",
          "2026-11-25T24:00:00Z", "2026-11-25T10:20:60Z", "2026-11-25T10:20:00.1234Z",
          "2026-11-25T10:20:00+1:00", "2026-11-25 10:20:00Z", "2026-11-25T10:20:00z"}) {
        auto draft = good;
        draft.time = time;
        CHECK_MESSAGE(!in_order(draft), time);
    }
    for (auto const* const by :
         {"\xff", "a\x01", "\xc0\x80", "\xed\xa0\x80", "\xf4\x90\x80\x80", "\xe2\x82", "\x7f", "\xc2\x85"}) {
        auto draft = good;
        draft.by = by;
        CHECK_MESSAGE(!in_order(draft), by);
    }
    for (auto const* const name : {"", "A", "a b", "a\n", "é"}) {
        auto draft = good;
        draft.fields = {{name, "x"}};
        CHECK_MESSAGE(!in_order(draft), name);
    }
}

// RFC 3339, section 5.8: the pair of examples of one instant, and its fraction of a second.
TEST_CASE("a time is an instant") {
    CHECK(instant_ms("1996-12-19T16:39:57-08:00") == instant_ms("1996-12-20T00:39:57Z"));
    CHECK(instant_ms("1985-04-12T23:20:50.52Z") == *instant_ms("1985-04-12T23:20:50Z") + 520);
    CHECK(instant_ms("1970-01-01T00:00:00Z") == 0);
    CHECK(instant_ms("2001-09-09T01:46:40Z") == 1'000'000'000'000);  // POSIX time, by arithmetic
    CHECK(utc_time(1'000'000'000'000) == "2001-09-09T01:46:40Z");
    CHECK(utc_time(-1) == "1969-12-31T23:59:59Z");
}
