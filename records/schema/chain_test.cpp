#include "records/schema/chain.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "records/schema/plan_history.hpp"
#include "records/schema/text_form.hpp"

using namespace phasewright::schema;

namespace {

// A job of two devices, made by hand.
struct Job {
    JobFacts facts{std::string(32, 'a'), "Tallowmere Yard", "2026-11-25T08:00:00Z"};
    std::vector<Device> devices;
    std::vector<Kept> entries;
    Blobs blobs;
    std::vector<std::string> plan_texts;

    KeyPair device(unsigned char which) {
        Seed seed{};
        seed.fill(which);
        auto const key = key_pair_of(seed);
        devices.push_back({device_id_of(key.open), key.open});
        add(key, introduction(key.open, "van-" + std::to_string(which), "2026-11-25T08:00:00Z"));
        return key;
    }
    Kept const* head(KeyPair const& key) const {
        Kept const* found = nullptr;
        for (auto const& kept : entries)
            if (kept.device == device_id_of(key.open) && (found == nullptr || kept.number > found->number))
                found = &kept;
        return found;
    }
    void add(KeyPair const& key, Draft draft) {
        auto const kept = sealed(facts.id, key, head(key), std::move(draft));
        REQUIRE(kept);
        entries.push_back(*kept);
    }
    void note(KeyPair const& key, std::string const& minute) {
        blobs[sha256(minute)] = {sha256(minute), minute.size()};
        add(key, {.time = "2026-11-25T09:" + minute + ":00+01:00",
                  .kind = Kind::note,
                  .point = "gate",
                  .blobs = {{sha256(minute), "text/plain", minute.size(), "note.txt"}},
                  .fields = {{"text", "minute " + minute}}});
    }
    Verification verified() const { return verify(facts, devices, entries, blobs); }
};

Job two_vans() {
    Job job;
    auto const one = job.device(1), two = job.device(2);
    for (auto const* const minute : {"10", "12", "14", "16"}) job.note(one, minute);
    for (auto const* const minute : {"11", "13"}) job.note(two, minute);
    return job;
}

ChainState const& chain_with(Verification const& verification, std::string const& name) {
    auto const found = std::ranges::find(verification.chains, name, &ChainState::name);
    REQUIRE(found != verification.chains.end());
    return *found;
}

}  // namespace

TEST_CASE("an untouched job is unchanged since the head of each device was signed") {
    auto const job = two_vans();
    auto const verification = job.verified();
    CHECK(verification.unchanged());
    CHECK(!verification.forked());
    auto const& chain = chain_with(verification, "van-1");
    CHECK(chain.entries == 5);
    CHECK(chain.sound_number == 5);
    CHECK(chain.sound_time == "2026-11-25T09:16:00+01:00");
}

TEST_CASE("any bit of any entry that is turned is named: device, number, kind, time") {
    auto const job = two_vans();
    for (std::size_t which = 0; which < job.entries.size(); ++which) {
        auto const size = job.entries[which].text.size();
        for (std::size_t bit = which % 3; bit < (size + 32 + 64) * 8; bit += 7) {
            auto changed = job;
            auto& kept = changed.entries[which];
            auto const byte = bit / 8;
            unsigned char const turned = static_cast<unsigned char>(1U << (bit % 8));
            if (byte < size)
                kept.text[byte] = static_cast<char>(static_cast<unsigned char>(kept.text[byte]) ^ turned);
            else if (byte < size + 32)
                kept.hash[byte - size] ^= turned;
            else
                kept.signature[byte - size - 32] ^= turned;
            auto const verification = changed.verified();
            REQUIRE(!verification.unchanged());
            auto const broken =
                std::ranges::find_if(verification.chains, [](auto const& c) { return !c.breaks.empty(); });
            CHECK(broken->breaks.front().device == kept.device);
            CHECK(broken->breaks.front().number == kept.number);
            CHECK(broken->breaks.front().kind == kept.kind);
            CHECK(broken->sound_number == kept.number - 1);
        }
    }
}

TEST_CASE("what somebody without the key could try is named") {
    auto const good = two_vans();
    auto const first_wrong = [](Job const& job) {
        auto const verification = job.verified();
        for (auto const& chain : verification.chains)
            if (!chain.breaks.empty()) return chain.breaks.front().what;
        return std::string{};
    };
    SUBCASE("an entry taken out of the middle") {
        auto job = good;
        job.entries.erase(job.entries.begin() + 3);
        CHECK(first_wrong(job) == "the entry that it follows is missing, or was changed");
    }
    SUBCASE("a text with a new hash but the old signature") {
        auto job = good;
        auto& text = job.entries[2].text;
        text.replace(text.find("minute 10"), 9, "minute 99");
        job.entries[2].hash = sha256(text);
        CHECK(first_wrong(job) == "its signature is not that of its device");
    }
    SUBCASE("sealed anew with another key under the same device") {
        auto job = good;
        Seed seed{};
        seed.fill(7);
        auto const other = key_pair_of(seed);
        for (auto& device : job.devices) device.key = other.open;
        CHECK(first_wrong(job) == "its id is not that of its public key");
    }
    SUBCASE("a chain of another job") {
        auto job = good;
        job.facts.id = std::string(32, 'b');
        CHECK(first_wrong(job) == "it belongs to another job");
    }
    SUBCASE("a photo exchanged, or gone") {
        auto job = good;
        job.blobs[sha256("12")] = {sha256("other"), 2};
        CHECK(first_wrong(job) == "the bytes of the file note.txt are not those that were sealed");
        job.blobs.erase(sha256("12"));
        CHECK(first_wrong(job) == "the file note.txt is missing");
    }
    SUBCASE("a device taken away") {
        auto job = good;
        job.devices.clear();
        CHECK(first_wrong(job) == "the public key of its device is missing");
    }
    SUBCASE("the columns beside the text") {
        auto job = good;
        job.entries[3].point = "other";
        CHECK(first_wrong(job) == "kind, time or point beside its text are not those in it");
    }
}

TEST_CASE(
    "a chain cut at its end verifies, as the reference page says: only a head kept elsewhere shows it") {
    auto job = two_vans();
    job.entries.pop_back();
    CHECK(job.verified().unchanged());
}

TEST_CASE("a copy that was used apart makes a fork, which is shown and breaks nothing") {
    auto job = two_vans();
    Seed seed{};
    seed.fill(1);
    auto const key = key_pair_of(seed);
    auto const older = job.entries[3];  // of van-1
    auto const kept = sealed(job.facts.id, key, &older, {.time = "2026-11-25T12:00:00Z"});
    REQUIRE(kept);
    job.entries.push_back(*kept);
    auto const verification = job.verified();
    CHECK(verification.unchanged());
    CHECK(verification.forked());
    CHECK(chain_with(verification, "van-1").forks_before == std::vector<std::uint64_t>{older.number + 1});
}

TEST_CASE("entries are shown by instant, device and number, wherever they came from") {
    auto const job = two_vans();
    auto shuffled = job.entries;
    std::ranges::reverse(shuffled);
    auto ordered = job.entries;
    sort_for_showing(ordered);
    sort_for_showing(shuffled);
    CHECK(ordered == shuffled);
    std::string minutes;
    for (auto const& kept : ordered)
        if (kept.kind == "note") minutes += entry_of(kept.text)->said.fields.front().value.substr(7) + " ";
    CHECK(minutes == "10 11 12 13 14 16 ");
}

TEST_CASE("undo and redo are new versions, a change clears what was undone, and nothing is lost") {
    Job job;
    auto const key = job.device(1);
    int minute = 10;
    auto const put = [&](std::expected<NextVersion, phasewright::quantity::Fault> const& next) {
        if (!next) return false;
        job.blobs[next->text] = {next->text, 1};
        auto const time = "2026-11-25T09:" + std::to_string(minute++) + ":00Z";
        job.add(key, draft_of(*next, 1, time, "Ada Marlow", "because"));
        return true;
    };
    auto const history = [&] { return plan_history(job.entries); };
    auto const now = [&] {
        auto const done = history().done;
        return done.empty() ? Hash{} : done.back();
    };
    auto const a = sha256("a"), b = sha256("b"), c = sha256("c");
    CHECK(!put(undone(history())));
    REQUIRE(put(changed_to(history(), a)));
    CHECK(!put(undone(history())));  // the first text stays: a job with a plan keeps one
    REQUIRE(put(changed_to(history(), b)));
    REQUIRE(put(changed_to(history(), c)));
    REQUIRE(put(undone(history())));
    CHECK(now() == b);
    REQUIRE(put(undone(history())));
    CHECK(now() == a);
    REQUIRE(put(redone(history())));
    CHECK(now() == b);
    REQUIRE(put(changed_to(history(), c)));
    CHECK(!put(redone(history())));
    REQUIRE(put(undone(history())));
    CHECK(now() == b);
    CHECK(history().all.size() == 8);
    CHECK(history().line.size() == 8);
    CHECK(history().all[3].by == "Ada Marlow");
    CHECK(job.verified().unchanged());

    // An undo that holds another text than it should: sealed by the device itself, and named nevertheless.
    put(NextVersion{PlanAction::undo, history().latest, c});
    auto const verification = job.verified();
    REQUIRE(verification.plan.size() == 1);
    CHECK(verification.plan.front().what == "its text is not the one that was undone or redone to");
}

TEST_CASE("two latest versions are a conflict until a person settles it") {
    Job job;
    auto const one = job.device(1), two = job.device(2);
    auto const put = [&](KeyPair const& key, NextVersion const& next, std::string const& time) {
        job.blobs[next.text] = {next.text, 1};
        job.add(key, draft_of(next, 1, time, "", ""));
    };
    put(one, *changed_to(plan_history(job.entries), sha256("a")), "2026-11-25T09:10:00Z");
    auto const common = plan_history(job.entries);
    put(one, *changed_to(common, sha256("b")), "2026-11-25T09:11:00Z");
    put(two, *changed_to(common, sha256("c")), "2026-11-25T09:12:00Z");
    auto const apart = plan_history(job.entries);
    CHECK(apart.latest.size() == 2);
    CHECK(!changed_to(apart, sha256("d")));
    CHECK(!undone(apart));
    put(two, *settled(apart, sha256("d")), "2026-11-25T09:13:00Z");
    auto const together = plan_history(job.entries);
    CHECK(together.latest.size() == 1);
    CHECK(together.done.back() == sha256("d"));
    CHECK(job.verified().unchanged());
    CHECK(!settled(together, sha256("e")));
}
