// A serial line in memory with a simulated clock: devices that answer in one format at one unit each.
#include <doctest/doctest.h>

#include <algorithm>

#include "bus/codec/question.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/finder/serial_search.hpp"
#include "bus/profile/sunspec.hpp"

namespace phasewright::finder {

namespace {
using codec::Fault;
using codec::FaultKind;
using plan::Parity;
using plan::SerialFormat;

struct SimulatedDevice {
    SerialFormat format;
    std::uint8_t unit = 1;
    profile::RegisterImage image;
    std::vector<codec::IdentificationObject> objects;
    bool collides = false;  // two of them, at once
};

struct World {
    std::vector<SimulatedDevice> devices;
    bool echoes = false;
    double now_s = 0.0;
    double listened_s = 0.0;
    std::vector<port::Overheard> traffic;  // what each listening hears, in order; then silence
    std::size_t listenings = 0;
    port::Overheard behind_the_answer;  // once
    std::vector<std::string> formats;
    std::function<void()> at_question;
    int questions = 0;
    bool cancelled = false;
};

class QuietChannel final : public port::Channel {
public:
    explicit QuietChannel(World& world) : world_(world) {}
    std::expected<void, Fault> open() override { return {}; }
    void close() override {}
    std::expected<void, Fault> send(codec::BytesView, port::SteadyTime) override { return {}; }
    std::expected<port::Piece, Fault> receive(port::SteadyTime) override { return port::Piece{}; }
    void discard_input() override {}
    std::optional<SerialFormat> format() const override { return format_; }
    std::expected<void, Fault> set_format(SerialFormat const& format) override {
        if (format.bit_rate == 57600) return std::unexpected(Fault{.kind = FaultKind::not_offered});
        format_ = format;
        world_.formats.push_back(plan::words_of(format));
        return {};
    }
    void cancel() noexcept override { world_.cancelled = true; }
    void resume() noexcept override { world_.cancelled = false; }
    std::string place() const override { return "/dev/simulated"; }

private:
    World& world_;
    SerialFormat format_;
};

class SimulatedLine final : public port::Line {
public:
    SimulatedLine(World& world, port::RtuSettings settings) : world_(world), settings_(std::move(settings)) {}

    std::expected<codec::Bytes, Fault> ask(std::uint8_t unit, codec::BytesView question) override {
        if (world_.at_question) world_.at_question();
        if (world_.cancelled) return std::unexpected(Fault{.kind = FaultKind::cancelled});
        ++world_.questions;
        port::Exchange exchange{.unit = unit};
        exchange.sent = codec::to_bytes({.unit = unit, .pdu = codec::Bytes(question.begin(), question.end())});
        if (world_.echoes) codec::put_bytes(exchange.heard, exchange.sent);
        if (world_.echoes && settings_.echoes) exchange.echoed = exchange.sent.size();
        auto answer = answer_of(unit, question);
        if (answer) codec::put_bytes(exchange.heard, codec::to_bytes({.unit = unit, .pdu = *answer}));
        if (!answer && answer.error().kind == FaultKind::garbled) exchange.heard.push_back(std::byte{0x11});
        if (world_.echoes && !settings_.echoes) answer = std::unexpected(Fault{.kind = FaultKind::garbled});
        world_.now_s += answer ? 0.02 : 1e-3 * settings_.answer_timeout_ms + 0.007;
        if (!answer) exchange.fault = answer.error();
        if (settings_.listener) settings_.listener(exchange);
        return answer;
    }
    std::string place() const override { return "/dev/simulated"; }
    double now_s() const override { return world_.now_s; }

private:
    std::expected<codec::Bytes, Fault> answer_of(std::uint8_t unit, codec::BytesView question) {
        for (auto const& device : world_.devices) {
            if (device.unit != unit || !(device.format == settings_.format)) continue;
            if (device.collides) return std::unexpected(Fault{.kind = FaultKind::garbled});
            auto const asked = codec::parse_question(question);
            auto const function = codec::u8_at(question, 0);
            if (!asked) return codec::exception_pdu(function, asked.error());
            if (auto const* who = std::get_if<codec::ReadIdentification>(&*asked); who != nullptr && !device.objects.empty())
                return codec::identification_pdu(*who, device.objects).value();
            auto const* const read = std::get_if<codec::ReadRegisters>(&*asked);
            if (read == nullptr) return codec::exception_pdu(function, codec::ExceptionCode::illegal_function);
            auto const values = profile::serve(device.image, *read);
            return values ? codec::registers_pdu(*read, *values) : codec::exception_pdu(function, values.error());
        }
        return std::unexpected(Fault{.kind = FaultKind::no_answer});
    }

    World& world_;
    port::RtuSettings settings_;
};

SerialSearch search_in(World& world) {
    SerialSearch search;
    search.means.listen = [&](port::Channel&, double seconds) -> std::expected<port::Overheard, Fault> {
        if (seconds < 1.0) return std::exchange(world.behind_the_answer, {});
        world.listened_s += seconds;
        if (world.cancelled) return std::unexpected(Fault{.kind = FaultKind::cancelled});
        auto const at = world.listenings++;
        return at < world.traffic.size() ? world.traffic[at] : port::Overheard{};
    };
    search.means.line = [&](std::unique_ptr<port::Channel>, port::RtuSettings settings) {
        return std::make_unique<SimulatedLine>(world, std::move(settings));
    };
    return search;
}

Found found_in(World& world, SerialSearch const& search, ProgressListener const& progress = {}) {
    QuietChannel channel(world);
    Stop stop;
    return find_on_serial(channel, search, stop, progress);
}

profile::RegisterImage sunspec_meter(std::string const& serial) {
    readings::Snapshot shown;
    shown.v = {230.0, 230.0, 230.0};
    return profile::sunspec_image(203, shown, {.maker = "Invented", .model = "Three", .serial = serial});
}

constexpr SerialFormat usual{19200, Parity::even, 1};
constexpr SerialFormat slower{9600, Parity::none, 1};
}  // namespace

TEST_CASE("meters are found in their format and say who they are by SunSpec or by function 43/14") {
    World world;
    world.devices = {{.format = slower, .unit = 3, .image = sunspec_meter("77")},
                     {.format = slower, .unit = 21, .image = {}, .objects = {{0, "Maker"}, {1, "M-1"}, {2, "2.0"}}}};
    auto search = search_in(world);
    auto const found = found_in(world, search);
    CHECK_FALSE(found.fault);
    REQUIRE(found.devices.size() == 2);
    CHECK(found.devices[0].unit == 3);
    CHECK(*found.devices[0].format == slower);
    CHECK(to_text(found.devices[0].identity) == "Invented Three, serial 77");
    CHECK(found.devices[0].identity.sunspec_meter_model == 203);
    CHECK(found.devices[1].identity.maker == "Maker");
    CHECK(found.devices[1].identity.version == "2.0");
    CHECK_FALSE(found.devices[1].identity.sunspec);
    CHECK(world.listened_s == 10.0);
}

TEST_CASE("a line on which anything is heard is not asked at all") {
    World world;
    world.devices = {{.format = usual, .unit = 1}};
    port::Overheard heard;
    codec::put_bytes(heard.bytes, codec::to_bytes({.unit = 4, .pdu = {std::byte{3}, std::byte{0}, std::byte{0}, std::byte{0}, std::byte{1}}}));
    heard.arrivals = {{1.0, heard.bytes.size()}};
    world.traffic = {heard};
    auto search = search_in(world);
    search.listen_s = 0.5;  // less than the least counts as the least
    auto const found = found_in(world, search);
    REQUIRE(found.fault);
    CHECK(found.fault->kind == FaultKind::line_in_use);
    CHECK(found.fault->detail.find("unit 4") != std::string::npos);
    CHECK(world.listened_s == 10.0);
    CHECK(world.questions == 0);
    CHECK(found.devices.empty());
}

TEST_CASE("unintelligible traffic is listened to in the other formats, and still not asked") {
    World world;
    port::Overheard noise, frames;
    for (int i = 0; i < 30; ++i) noise.bytes.push_back(std::byte{0xF8});
    codec::put_bytes(frames.bytes, codec::to_bytes({.unit = 9, .pdu = {std::byte{0x83}, std::byte{2}}}));
    world.traffic = {noise, {}, frames};
    auto search = search_in(world);
    auto const found = found_in(world, search);
    REQUIRE(found.fault);
    CHECK(found.fault->kind == FaultKind::line_in_use);
    CHECK(found.fault->detail.find("listening at 9600 8N1") != std::string::npos);
    CHECK(world.questions == 0);
    CHECK(world.formats.back() == "19200 8E1");  // as it was
}

TEST_CASE("a lone byte of a plug going in is listened after once more") {
    World world;
    port::Overheard lone;
    lone.bytes = {std::byte{0}};
    world.traffic = {lone};
    auto search = search_in(world);
    auto const found = found_in(world, search);
    CHECK_FALSE(found.fault);
    CHECK(world.listened_s == 20.0);
}

TEST_CASE("two meters at one address are doubtful, not found") {
    World world;
    world.devices = {{.format = usual, .unit = 1}, {.format = usual, .unit = 7, .image = {}, .objects = {}, .collides = true}};
    auto search = search_in(world);
    auto const found = found_in(world, search);
    REQUIRE(found.devices.size() == 1);
    REQUIRE(found.doubtful.size() == 1);
    CHECK(found.doubtful[0].unit == 7);
}

TEST_CASE("a second answer behind a whole one makes its unit doubtful") {
    World world;
    world.devices = {{.format = usual, .unit = 1}};
    world.behind_the_answer.bytes = {std::byte{1}, std::byte{0x83}};
    auto search = search_in(world);
    auto const found = found_in(world, search);
    CHECK(found.devices.size() == 1);
    REQUIRE(found.doubtful.size() == 1);
    CHECK(found.doubtful[0].unit == 1);
    REQUIRE(found.notes.size() == 1);
}

TEST_CASE("an adapter that hears itself is noticed at the first question") {
    World world;
    world.echoes = true;
    world.devices = {{.format = usual, .unit = 2}};
    auto search = search_in(world);
    auto const found = found_in(world, search);
    CHECK(found.echoes);
    CHECK(found.devices.size() == 1);
    CHECK(found.doubtful.empty());
}

TEST_CASE("a search that is stopped gives what it has, and asks no more") {
    World world;
    world.devices = {{.format = usual, .unit = 1}};
    auto const search = search_in(world);
    QuietChannel channel(world);
    Stop stop;
    world.at_question = [&] {
        if (world.questions == 40) stop.request();
    };
    auto const found = find_on_serial(channel, search, stop);
    CHECK(found.cancelled());
    CHECK(found.devices.size() == 1);
    CHECK(world.questions == 40);
}

TEST_CASE("a format that the port does not offer is left out and said") {
    World world;
    auto search = search_in(world);
    search.search.last = 4;
    auto const found = found_in(world, search);
    CHECK_FALSE(found.fault);
    REQUIRE(found.notes.size() == 2);
    CHECK(found.notes[0].find("57600") != std::string::npos);
}

TEST_CASE("progress tells the format, the unit and an upper bound of the time left that comes true") {
    World world;
    auto search = search_in(world);
    search.search.formats = {usual, slower};
    std::vector<SearchProgress> said;
    auto const found = found_in(world, search, [&](SearchProgress const& step) { said.push_back(step); });
    REQUIRE(said.size() == 1 + 2 * 247);
    CHECK(said[0].doing == "listening");
    CHECK(said[1].format == "19200 8E1");
    CHECK(said[100].left_s == doctest::Approx(found.took_s * (1.0 - 99.0 / 494.0)).epsilon(0.1));
}

}  // namespace phasewright::finder
