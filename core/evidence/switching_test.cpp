#include "core/evidence/switching.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "core/evidence/switching_model.hpp"

using namespace phasewright;
using namespace phasewright::evidence;
using doctest::Approx;

namespace {
// A building: an incomer above `count` tenants, each meter fed by the circuit `fed_by` says; loads wander
// slowly and every reading scatters. It shares nothing with the model under test but the words.
class Building {
public:
    Building(std::vector<double> loads_w, std::vector<std::size_t> fed_by, double wander = 0.02,
             unsigned seed = 7)
        : loads_(std::move(loads_w)), fed_by_(std::move(fed_by)), wander_(wander), engine_(seed) {}

    [[nodiscard]] std::vector<SwitchedMeter> meters() const {
        std::vector<SwitchedMeter> all{{"incomer", "", "main", false}};
        for (std::size_t k = 0; k < loads_.size(); ++k) all.push_back({name(k), "incomer", "riser", true});
        return all;
    }
    SwitchingStep off(std::size_t circuit) {
        SwitchingStep step{name(circuit), {}};
        for (auto const& meter : meters()) step.readings.push_back({meter.id, {}, {}, {}});
        for (int k = 0; k < 3; ++k) read(step, &SwitchedReadings::before_w, loads_.size());
        for (int k = 0; k < 3; ++k) read(step, &SwitchedReadings::during_w, circuit);
        for (int k = 0; k < 3; ++k) read(step, &SwitchedReadings::after_w, loads_.size());
        return step;
    }
    static std::string name(std::size_t k) { return "tenant-" + std::to_string(k + 1); }

private:
    void read(SwitchingStep& step, std::vector<double> SwitchedReadings::*when, std::size_t off) {
        std::normal_distribution<double> chance;
        std::vector<double> now;
        for (std::size_t c = 0; c < loads_.size(); ++c)
            now.push_back(c == off ? 0.0 : loads_[c] * (1.0 + wander_ * chance(engine_)));
        double sum = 0.0;
        for (double const one : now) sum += one;
        (step.readings[0].*when).push_back(sum);
        for (std::size_t m = 0; m < loads_.size(); ++m)
            (step.readings[m + 1].*when).push_back(now[fed_by_[m]]);
    }
    std::vector<double> loads_;
    std::vector<std::size_t> fed_by_;
    double wander_;
    std::mt19937 engine_;
};

Follows const& of(SwitchingResult const& result, std::string const& circuit) {
    return *std::ranges::find(result.circuits, circuit, &Follows::circuit);
}
}  // namespace

TEST_CASE("one breaker finds two interchanged CT sets, and the other half is inferred and proposed next") {
    // Tenants 7 and 8 exchanged: each meter shows a plausible load, wiring and angles are perfect.
    Building building({8400, 9100, 8700, 5200, 300, 2500, 8300, 6400}, {0, 1, 2, 3, 4, 5, 7, 6});
    auto const first = switched(building.meters(), {building.off(6)});
    REQUIRE(first.has_value());
    CHECK(first->outcome == Outcome::fail);
    CHECK(first->steps.front().meter == "tenant-8");
    CHECK(first->steps.front().parent_agrees == true);
    CHECK(of(*first, "tenant-7").meter == "tenant-8");
    CHECK(of(*first, "tenant-7").probability > 0.99);
    CHECK(of(*first, "tenant-8").meter == "tenant-7");
    CHECK_FALSE(of(*first, "tenant-8").tested);
    CHECK(of(*first, "tenant-8").probability < 0.99);
    CHECK(first->next == "tenant-8");

    auto const both = switched(building.meters(), {building.off(6), building.off(7)});
    CHECK(both->interchanged.size() == 2);
    CHECK(of(*both, "tenant-8").tested);
    CHECK(of(*both, "tenant-8").probability > 0.99);
    CHECK(both->next != "tenant-7");
    CHECK(both->next != "tenant-8");
}

TEST_CASE("a circuit that its own meter follows passes, also between meters with equal loads") {
    Building building({8000, 8000, 8000, 8000}, {0, 1, 2, 3});
    auto const result = switched(building.meters(), {building.off(2), building.off(0)});
    CHECK(result->outcome == Outcome::pass);
    CHECK(of(*result, "tenant-3").as_planned);
    CHECK(of(*result, "tenant-3").probability > 0.99);
    CHECK(result->interchanged.empty());
    CHECK((result->next == "tenant-2" || result->next == "tenant-4"));
}

TEST_CASE("three sets rotated are found by switching each") {
    Building building({8000, 6000, 4000, 5000}, {1, 2, 0, 3});  // meter 1 is fed by circuit 2, and so on
    auto const result = switched(building.meters(), {building.off(0), building.off(1), building.off(2)});
    CHECK(of(*result, "tenant-1").meter == "tenant-3");
    CHECK(of(*result, "tenant-2").meter == "tenant-1");
    CHECK(of(*result, "tenant-3").meter == "tenant-2");
    CHECK(result->interchanged.size() == 3);
}

TEST_CASE("a circuit without load proves nothing") {
    Building building({8000, 0, 6000}, {0, 1, 2});
    auto const result = switched(building.meters(), {building.off(1)});
    CHECK(result->outcome == Outcome::not_provable);
    CHECK(result->steps.front().meter.empty());
    CHECK_FALSE(of(*result, "tenant-2").seen);
}

TEST_CASE("a circuit whose fall none of the meters shows is not metered by them") {
    // Meter 2 counts circuit 1 as meter 1 does: circuit 2 is counted by nobody, though meter 2 shows a load.
    Building building({8000, 7000, 6000}, {0, 0, 2});
    auto const first = building.off(1);
    auto const once = switched(building.meters(), {first});  // or the wrong breaker was opened
    CHECK_FALSE(of(*once, "tenant-2").meter.has_value());
    CHECK(once->outcome == Outcome::not_provable);
    CHECK(once->next == "tenant-2");
    auto const twice = switched(building.meters(), {first, building.off(1)});
    CHECK_FALSE(of(*twice, "tenant-2").meter.has_value());
    CHECK(of(*twice, "tenant-2").probability > 0.99);
    CHECK(twice->outcome == Outcome::fail);
}

TEST_CASE(
    "the probabilities are honest: over many noisy buildings what is said with p is right about that often") {
    std::mt19937 engine{3};
    std::uniform_real_distribution<double> load(50.0, 9000.0);
    double said = 0.0;
    int right = 0;
    int sure_and_wrong = 0;
    constexpr int buildings = 300;
    for (int k = 0; k < buildings; ++k) {
        std::vector<std::size_t> fed_by{0, 1, 2, 3, 4};
        if (k % 3 == 0) std::swap(fed_by[1], fed_by[2]);
        std::vector<double> loads;
        for (int c = 0; c < 5; ++c) loads.push_back(load(engine));
        Building building(loads, fed_by, 0.25, static_cast<unsigned>(k));  // loads that wander by a quarter
        auto const result = switched(building.meters(), {building.off(1)});
        auto const& follows = of(*result, "tenant-2");
        bool const is_right = follows.meter == Building::name(k % 3 == 0 ? 2 : 1);
        said += follows.probability;
        right += is_right ? 1 : 0;
        sure_and_wrong += !is_right && follows.probability > 0.99 ? 1 : 0;
    }
    MESSAGE("said " << said / buildings << ", right " << static_cast<double>(right) / buildings
                    << ", sure and wrong " << sure_and_wrong << " of " << buildings);
    CHECK(sure_and_wrong <= buildings / 100);
    CHECK(static_cast<double>(right) / buildings > said / buildings - 0.05);
}

TEST_CASE("a chain of found circuits closes into the exchange that costs least") {
    // Circuit 0 at meter 1, circuit 1 not tested: closes into one exchange. 0 -> 1 -> 2 closes into a
    // rotation.
    CHECK(completed({1, not_tested, not_tested}) == std::vector{1, 0, 2});
    CHECK(completed({1, 2, not_tested}) == std::vector{1, 2, 0});
    CHECK(completed({not_tested, not_tested}) == std::vector{0, 1});
    std::vector<SwitchedMeter> const meters{{"a", "", "p"}, {"b", "", "p"}, {"c", "", "q"}};
    SwitchingSettings const settings;
    CHECK(log_prior({0, 1, 2}, meters, settings) == Approx(0.0));
    CHECK(log_prior({1, 0, 2}, meters, settings) == Approx(std::log(0.02 * 3.0)));
    CHECK(log_prior({2, 1, 0}, meters, settings) == Approx(std::log(0.02)));
    CHECK(log_prior({1, 2, 0}, meters, settings) == Approx(std::log(0.02 * 0.02 * 3.0)));
}

TEST_CASE("a circuit that must not stop is never proposed, and what cannot be is refused") {
    Building building({8000, 7000}, {0, 1});
    auto meters = building.meters();
    meters[2].may_switch = false;
    auto const result = switched(meters, {building.off(0)});
    CHECK_FALSE(result->next.has_value());
    auto step = building.off(0);
    step.circuit = "incomer";
    CHECK_FALSE(switched(meters, {step}).has_value());
    step.circuit = "tenant-9";
    CHECK(switched(meters, {step}).error().remedy.find("tenant-") != std::string::npos);
    step = building.off(0);
    step.readings.front().during_w.clear();
    CHECK_FALSE(switched(meters, {step}).has_value());
    CHECK_FALSE(switched({}, {}).has_value());
    CHECK(switched(meters, {})->outcome == Outcome::not_provable);
}
