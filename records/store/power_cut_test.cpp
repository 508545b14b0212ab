#include <doctest/doctest.h>

#include <cstdlib>

#include "records/store/jobs_in_tests.hpp"
#include "records/store/power_cut_in_tests.hpp"

using namespace phasewright::store;
using phasewright::schema::Hash;

namespace {

std::string some_bytes(std::mt19937& dice, std::size_t size) {
    std::string bytes(size, '\0');
    for (auto& c : bytes) c = static_cast<char>(dice() % 256);
    return bytes;
}

// What a busy day does to a job. Whatever returned without a fault was acknowledged.
class BusyDay {
public:
    explicit BusyDay(CutDisk& disk) : disk_(disk), place_{"job", disk.name()} {}

    bool begin() {
        auto made = create_job(place_, test_facts());
        if (!made) return false;
        store_ = std::move(*made);
        return true;
    }
    bool reopen() {
        store_.reset();
        auto opened = open_job(place_);
        if (!opened) {
            why_ = phasewright::quantity::to_sentence(opened.error());
            return false;
        }
        store_ = std::move(*opened);
        return true;
    }
    void close() { store_.reset(); }

    void work_until_the_cut() {
        while (!disk_.is_off()) {
            auto const what = disk_.dice()() % 100;
            if (what < 4) {
                if (!reopen()) return;
            } else if (what < 70) {
                write_notes();
            } else if (what < 80) {
                add_photo();
            } else {
                change();
            }
        }
    }

    // How many acknowledged entries are gone; -1 when the job does not open, is damaged or does not verify.
    long lost() {
        if (!reopen()) return -1;
        why_ = store_->read_only_because().value_or("");
        if (store_->is_damaged() || store_->read_only_because()) return -1;
        auto const verified = verify_job(*store_);
        why_ = sentence(verified);
        if (!verified) return -1;
        for (auto const& chain : verified->chains)
            for (auto const& wrong : chain.breaks)
                why_ += std::to_string(wrong.number) + " " + wrong.what + "; ";
        for (auto const& wrong : verified->plan)
            why_ += "plan " + std::to_string(wrong.number) + " " + wrong.what + "; ";
        if (!verified->unchanged() || verified->forked()) return -1;
        auto const there = hashes_in(*store_);
        return std::ranges::count_if(acknowledged_, [&](Hash const& hash) { return !there.contains(hash); });
    }
    [[nodiscard]] std::size_t acknowledged() const { return acknowledged_.size(); }
    [[nodiscard]] std::string const& why() const { return why_; }
    Store& store() { return *store_; }

private:
    template <class Hashes>
    void keep(Hashes const& hashes) {
        if (hashes) acknowledged_.insert(acknowledged_.end(), hashes->begin(), hashes->end());
    }
    void write_notes() {
        std::vector<phasewright::schema::Draft> drafts;
        for (auto n = disk_.dice()() % 3 + 1; n > 0; --n)
            drafts.push_back(note(++second_, std::string(disk_.dice()() % 3000, 'x')));
        keep(add_evidence(*store_, van_, drafts, {}));
    }
    void add_photo() {
        auto const bytes =
            some_bytes(disk_.dice(), disk_.dice()() % 10 == 0 ? 600'000 : disk_.dice()() % 30'000);
        auto const blob = blob_of(bytes);
        auto draft = note(++second_, "a photo");
        draft.blobs = {name_of(blob, "image/jpeg", "a.jpg")};
        keep(add_evidence(*store_, van_, {draft}, {blob}));
    }
    void change() {
        Said const said{test_time(++second_), "Ada Marlow", "because"};
        auto const which = disk_.dice()() % 4;
        auto const done = which == 0   ? undo_plan(*store_, van_, said)
                          : which == 1 ? redo_plan(*store_, van_, said)
                                       : change_plan(*store_, van_, "plan " + std::to_string(second_), said);
        if (done) acknowledged_.push_back(*done);
    }

    CutDisk& disk_;
    JobPlace place_;
    std::unique_ptr<Store> store_;
    DeviceKey van_ = test_device(1);
    std::vector<Hash> acknowledged_;
    std::string why_;
    int second_ = 0;
};

struct Figures {
    int cuts = 0, not_opened = 0;
    long lost = 0;
    std::size_t acknowledged = 0;
};

// One job after the other, each through `cuts_each` power cuts.
Figures cut_often(int cuts, bool lies) {
    constexpr int cuts_each = 10;
    Figures figures;
    for (unsigned seed = 1; figures.cuts < cuts; ++seed) {
        CutDisk disk(seed);
        if (lies) disk.lie_about_syncs();
        BusyDay day(disk);
        REQUIRE(day.begin());
        for (int k = 0; k < cuts_each && figures.cuts < cuts; ++k) {
            disk.cut_after(1 + static_cast<long>(disk.dice()() % 800));
            day.work_until_the_cut();
            day.close();
            disk.restart();
            ++figures.cuts;
            auto const lost = day.lost();
            std::string const where =
                "seed " + std::to_string(seed) + " cut " + std::to_string(k) + ": " + day.why();
            if (!lies) {
                CHECK_MESSAGE(lost == 0, where);
            }
            if (lost < 0)
                ++figures.not_opened;
            else
                figures.lost += lost;
            if (lost != 0) break;
        }
        figures.acknowledged += day.acknowledged();
    }
    return figures;
}

int cuts_wanted() {
    char const* const wanted = std::getenv("PHASEWRIGHT_POWER_CUTS");
    return wanted == nullptr ? 25 : std::atoi(wanted);
}

}  // namespace

TEST_CASE(
    "the power is cut in the middle of busy work: the job opens, verifies and holds what was acknowledged") {
    auto const figures = cut_often(cuts_wanted(), false);
    MESSAGE(figures.cuts, " cuts, ", figures.acknowledged, " entries acknowledged, ", figures.lost, " lost, ",
            figures.not_opened, " jobs not whole");
    CHECK(figures.lost == 0);
    CHECK(figures.not_opened == 0);
    CHECK(figures.acknowledged > static_cast<std::size_t>(figures.cuts) * 5);
}

TEST_CASE("the same cuts on a disk that lies about its syncs lose entries: the test can fail") {
    auto const figures = cut_often(25, true);
    CHECK(figures.lost + figures.not_opened > 5);
}

TEST_CASE(
    "a full disk refuses in a sentence, keeps what was acknowledged, and the work goes on once there is "
    "room") {
    for (std::size_t const room : {60'000UL, 100'000UL, 150'000UL, 300'000UL}) {
        CutDisk disk(7);
        disk.take_at_most(room);
        JobPlace const place{"job", disk.name()};
        auto store = create_job(place, test_facts());
        if (!store) continue;  // not even room for the tables
        auto const van = test_device(1);
        std::set<Hash> acknowledged;
        std::string said;
        for (int k = 0; k < 1000 && said.empty(); ++k) {
            auto const added = add_evidence(**store, van, {note(k, std::string(900, 'x'))}, {});
            if (added) acknowledged.insert(added->begin(), added->end());
            said = sentence(added);
        }
        CHECK_MESSAGE(said.find("the disk is full; nothing was added") != std::string::npos, said);
        disk.take_at_most(100'000'000);
        auto const again = add_evidence(**store, van, {note(2000, "room again")}, {});
        CHECK(sentence(again) == "");
        store->reset();
        store = open_job(place);
        REQUIRE(store);
        CHECK(verify_job(**store)->unchanged());
        auto const there = hashes_in(**store);
        CHECK(std::ranges::includes(there, acknowledged));
        CHECK(there.size() == acknowledged.size() + 2);  // the device, and the note when there was room again
    }
}
