#include "bus/poller/meter_reader.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "bus/profile/energy.hpp"
#include "bus/profile/register_image.hpp"
#include "bus/profile/sunspec.hpp"

using namespace phasewright;
using namespace phasewright::poller;

namespace {

// Answers from registers, and writes down what it was asked.
class ImageLine final : public port::Line {
public:
    explicit ImageLine(profile::RegisterImage image) : image_(std::move(image)) {}
    std::expected<codec::Bytes, codec::Fault> ask(std::uint8_t, codec::BytesView question) override {
        auto const asked = std::get<codec::ReadRegisters>(*codec::parse_question(question));
        asked_.push_back(asked);
        auto const registers = profile::serve(image_, asked);
        if (!registers) return codec::exception_pdu(3, registers.error());
        return codec::registers_pdu(asked, *registers);
    }
    std::string place() const override { return "registers in a test"; }
    std::vector<codec::ReadRegisters> asked_;

private:
    profile::RegisterImage image_;
};

constexpr auto profile_text = R"(name = "Counts"
maker = "Nobody"
bridge = 4
[measurements.v]
registers = [0, 1, 2]
[measurements.i]
registers = [3, 4, 5]
[energies.import]
kind = "import"
register = 10
type = "uint32"
unit = "kWh"
scale = 0.1
wraps_after = 9999999
[energies.net]
kind = "net"
register = 40
type = "int32"
unit = "Wh"
[[services]]
service = "3P4W"
elements = [1, 2, 3]
[terminals]
voltage = ["1", "2", "3"]
current = [{ s1 = "4", s2 = "6" }, { s1 = "7", s2 = "9" }, { s1 = "10", s2 = "12" }]
)";

}  // namespace

TEST_CASE(
    "measurements and energies of a profile come in the cheapest questions, with the counters' habits") {
    auto read_profile = profile::read_profile(profile_text, "counts.toml");
    REQUIRE_MESSAGE(read_profile.has_value(),
                    (read_profile ? "" : quantity::to_sentence(read_profile.error())));
    auto const counts = std::make_shared<profile::Profile const>(std::move(*read_profile));
    profile::RegisterImage image;
    std::vector<std::uint16_t> const first{230, 231, 229, 10, 11,     12,
                                           0,   0,   0,   0,  0x0001, 0x86A0};  // 100000 tenths
    std::vector<std::uint16_t> const net{0xFFFF, 0xFFFE};                       // -2
    profile::put_registers(image, codec::Function::read_holding_registers, 0, first);
    profile::put_registers(image, codec::Function::read_holding_registers, 40, net);
    ImageLine line(image);
    auto const read = read_by_profile(counts, 1, plan::Service::four_wire_wye);
    auto const numbers = read(line);
    REQUIRE(numbers.has_value());
    CHECK(line.asked_ ==
          std::vector<codec::ReadRegisters>{{.address = 0, .count = 12}, {.address = 40, .count = 2}});
    CHECK(*numbers->snapshot.v[1] == doctest::Approx(231.0));
    REQUIRE(numbers->counters.size() == 2);
    auto const import = std::ranges::find(numbers->counters, "import", &Counter::name);
    REQUIRE(import != numbers->counters.end());
    CHECK(*import->value == doctest::Approx(10'000'000.0));  // Wh
    CHECK_FALSE(import->habit.may_fall);
    CHECK(import->habit.step == doctest::Approx(100.0));
    auto const falling = std::ranges::find(numbers->counters, "net", &Counter::name);
    REQUIRE(falling != numbers->counters.end());
    CHECK(*falling->value == doctest::Approx(-2.0));
    CHECK(falling->habit.may_fall);
}

TEST_CASE("a SunSpec meter brings its energies along in the same question") {
    readings::Snapshot shown;
    shown.v = {230.0, 231.0, 229.0};
    shown.i = {10.0, 11.0, 12.0};
    auto image = profile::sunspec_image(203, shown, {});
    std::vector<profile::SunspecEnergy> const energies{{"TotWhImp", 123456.0}};
    profile::put_sunspec_energies(image, 203, energies);
    ImageLine line(image);
    auto read = read_by_sunspec(1, plan::Service::four_wire_wye);
    REQUIRE(read(line).has_value());
    line.asked_.clear();
    auto const again = read(line);
    REQUIRE(again.has_value());
    CHECK(line.asked_.size() == 1);
    auto const import = std::ranges::find(again->counters, "TotWhImp", &Counter::name);
    REQUIRE(import != again->counters.end());
    CHECK(*import->value == doctest::Approx(123456.0));
    // acc32 is an unsigned running total: it rolls over at 2^32 (from memory of the specification).
    CHECK(import->habit.wrap == doctest::Approx(4294967296.0 * import->habit.step));
}
