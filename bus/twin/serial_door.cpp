#define ASIO_STANDALONE
#define ASIO_NO_DEPRECATED
#include "bus/twin/serial_door.hpp"

#include <array>
#include <utility>

#include <asio.hpp>

#include "bus/codec/rtu_frame.hpp"
#include "bus/twin/pty.hpp"

namespace phasewright::twin {

namespace {
constexpr std::chrono::milliseconds end_of_question{15};  // more than any client pauses inside a frame
constexpr std::byte noise{0x5A};
}  // namespace

struct SerialDoor::State {
    State(asio::io_context& io, BusLine its_line, Clock const& its_clock)
        : line(std::move(its_line)), clock(its_clock), port(io), silence(io), next_byte(io) {}
    State(State const&) = delete;
    State& operator=(State const&) = delete;
    State(State&&) = delete;
    State& operator=(State&&) = delete;
    ~State() = default;

    BusLine line;
    Clock const& clock;
    asio::posix::stream_descriptor port;
    asio::steady_timer silence, next_byte;
    NearEnd near_end;
    std::array<std::byte, 512> buffer{};
    codec::Bytes question;
    double began_s = 0.0;
    std::vector<TimedByte> coming;
    std::size_t handed_on = 0;

    void read() {
        port.async_read_some(asio::buffer(buffer), [this](asio::error_code error, std::size_t count) {
            if (error) return;
            heard(codec::BytesView(buffer).first(count));
            read();
        });
    }

    void heard(codec::BytesView bytes) {
        // Whoever speaks while somebody answers is heard by nobody, and spoils the rest of the answer.
        for (auto k = handed_on; k < coming.size(); ++k) coming[k].value ^= noise;
        bool const spoiled = handed_on < coming.size();
        if (question.empty()) began_s = clock();
        constexpr std::size_t most = 4 * codec::max_rtu_frame_bytes;
        if (question.size() < most) codec::put_bytes(question, bytes);
        if (!spoiled && codec::read_rtu_frame(question)) {
            silence.cancel();
            respond();
            return;
        }
        silence.expires_after(end_of_question);
        silence.async_wait([this](asio::error_code stopped) {
            if (!stopped) respond();
        });
    }

    void respond() {
        auto const whole = std::exchange(question, {});
        if (whole.empty() || handed_on < coming.size()) return;
        coming = line.respond(whole, format_on(port.native_handle(), line.planned().format), began_s);
        handed_on = 0;
        hand_on();
    }

    void hand_on() {
        if (handed_on >= coming.size()) return;
        auto const wait_s = std::max(0.0, coming[handed_on].at_s - clock());
        next_byte.expires_after(std::chrono::duration_cast<std::chrono::steady_clock::duration>(
            std::chrono::duration<double>(wait_s)));
        next_byte.async_wait([this](asio::error_code stopped) {
            if (stopped) return;
            codec::Bytes due;
            while (handed_on < coming.size() && coming[handed_on].at_s <= clock())
                due.push_back(coming[handed_on++].value);
            // A client that does not read fills the terminal's buffer: what does not fit is lost, as on a
            // wire.
            asio::error_code lost;
            port.write_some(asio::buffer(due), lost);
            hand_on();
        });
    }
};

SerialDoor::SerialDoor(std::unique_ptr<State> state) : state_(std::move(state)) {}
SerialDoor::~SerialDoor() = default;
std::string const& SerialDoor::device() const { return state_->near_end.device; }
BusLine& SerialDoor::line() { return state_->line; }

std::expected<std::unique_ptr<SerialDoor>, quantity::Fault> SerialDoor::open(asio::io_context& io,
                                                                             BusLine line,
                                                                             Clock const& clock) {
    auto pty = open_pty();
    if (!pty) {
        auto fault = pty.error();
        fault.where = "serial line " + line.planned().id;
        return std::unexpected(std::move(fault));
    }
    auto state = std::make_unique<State>(io, std::move(line), clock);
    state->port.assign(pty->master);
    state->port.non_blocking(true);
    state->near_end = std::move(pty->near_end);
    state->read();
    return std::unique_ptr<SerialDoor>(new SerialDoor(std::move(state)));
}

}  // namespace phasewright::twin
