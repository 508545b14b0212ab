#include "benchmarks/paced_line.hpp"

#include <algorithm>
#include <array>

#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <pty.h>
#include <sched.h>
#include <sys/prctl.h>
#include <termios.h>
#include <unistd.h>

#include "bus/codec/question.hpp"
#include "bus/codec/rtu_frame.hpp"

namespace phasewright::benchmarks {

namespace {
constexpr std::size_t question_bytes = 8;
std::chrono::nanoseconds nanoseconds(double seconds) {
    return std::chrono::nanoseconds(static_cast<long long>(seconds * 1e9));
}
// This side stands for wires and hardware, which are never busy with something else: it goes before other
// work and wakes to the microsecond, where the system allows.
void go_first() {
    sched_param const first{.sched_priority = 50};
    (void)pthread_setschedparam(pthread_self(), SCHED_FIFO, &first);
    (void)prctl(PR_SET_TIMERSLACK, 1UL, 0UL, 0UL, 0UL);
}

}  // namespace

PacedLine::PacedLine(plan::SerialFormat const& format, double answer_delay_s)
    : format_(format), answer_delay_s_(std::max(answer_delay_s, plan::silence_between_s(format))) {
    std::array<char, 256> name{};
    if (openpty(&far_, &near_, name.data(), nullptr, nullptr) != 0) return;
    termios raw{};
    tcgetattr(near_, &raw);
    cfmakeraw(&raw);
    tcsetattr(near_, TCSANOW, &raw);
    device_ = name.data();
    thread_ = std::thread([this] { serve(); });
}

PacedLine::~PacedLine() {
    over_ = true;
    if (thread_.joinable()) thread_.join();
    for (int const end : {near_, far_})
        if (end >= 0) close(end);
}

void PacedLine::serve() {
    go_first();
    std::array<unsigned char, question_bytes> question{};
    std::size_t have = 0;
    while (!over_) {
        pollfd waiting{.fd = far_, .events = POLLIN, .revents = 0};
        if (poll(&waiting, 1, 20) <= 0) continue;
        auto const came = read(far_, question.data() + have, question.size() - have);
        if (came <= 0) continue;
        auto const now = Clock::now();
        if (have == 0 && answered_ > 0) {
            double const silence_s = std::chrono::duration<double>(now - quiet_since_).count();
            least_silence_s_ = std::min(least_silence_s_.load(), silence_s);
            if (silence_s < plan::silence_between_s(format_)) ++too_early_;
        }
        have += static_cast<std::size_t>(came);
        if (have < question.size()) continue;
        have = 0;
        answer(question.data(), now);
    }
}

void PacedLine::answer(unsigned char const* question, Clock::time_point came) {
    auto const word = [&](int at) { return static_cast<unsigned>(question[at]) << 8U | question[at + 1]; };
    codec::ReadRegisters const asked{.function = static_cast<codec::Function>(question[1]),
                                     .address = static_cast<std::uint16_t>(word(2)),
                                     .count = static_cast<std::uint16_t>(word(4))};
    codec::Registers const values(asked.count, 0x1234);
    auto const frame =
        codec::to_bytes(codec::RtuFrame{.unit = question[0], .pdu = codec::registers_pdu(asked, values)});
    double const character = plan::character_s(format_);
    double const begins_s = question_bytes * character + answer_delay_s_;
    std::size_t sent = 0;
    while (sent < frame.size() && !over_) {
        std::this_thread::sleep_until(came +
                                      nanoseconds(begins_s + static_cast<double>(sent + 1) * character));
        double const passed_s = std::chrono::duration<double>(Clock::now() - came).count();
        auto const due =
            std::clamp(static_cast<std::size_t>((passed_s - begins_s) / character), sent + 1, frame.size());
        auto const wrote = write(far_, frame.data() + sent, due - sent);
        if (wrote <= 0) return;
        sent += static_cast<std::size_t>(wrote);
    }
    quiet_since_ = came + nanoseconds(begins_s + static_cast<double>(frame.size()) * character);
    ++answered_;
}

}  // namespace phasewright::benchmarks
