#include "bus/decoder/live_dump.hpp"

#include <algorithm>
#include <vector>

namespace phasewright::decoder {

namespace {

constexpr unsigned give_up_after = 16;  // single registers refused in a row
constexpr unsigned passed_over = 8;     // so long a refused piece is not taken apart then

// The meter lives and says no to this run: a shorter one may do.
bool only_refused(codec::Fault const& fault) {
    if (fault.kind != codec::FaultKind::refused || !fault.exception) return false;
    auto const code = codec::exception_of(*fault.exception);
    return code == codec::ExceptionCode::illegal_data_address || code == codec::ExceptionCode::illegal_data_value ||
           code == codec::ExceptionCode::server_device_failure;
}

class Reading {
public:
    Reading(port::Line& line, std::uint8_t unit, RunAsked const& asked, std::function<bool(unsigned)> const& progress)
        : line_(line), unit_(unit), asked_(asked), progress_(progress) {}

    RunRead run() {
        std::uint32_t const end = std::min<std::uint32_t>(0x10000, std::uint32_t{asked_.from} + asked_.count);
        unsigned const longest = std::clamp(asked_.longest, 1U, codec::max_read_registers);
        for (std::uint32_t at = asked_.from; at < end && !read_.stopped;) {
            auto const count = std::min<std::uint32_t>(longest, end - at);
            piece(at, count);
            at += count;
            if (progress_ && !progress_(at - asked_.from)) break;
        }
        return std::move(read_);
    }

private:
    using Stretch = std::pair<std::uint32_t, std::uint32_t>;  // first address, registers

    static void take_apart(Stretch const& stretch, std::vector<Stretch>& open) {
        auto const half = stretch.second / 2;
        open.emplace_back(stretch.first + half, stretch.second - half);
        open.emplace_back(stretch.first, half);
    }

    // One chunk: what is refused is halved, until single registers tell; after many refusals in a row the rest of the
    // chunk is felt for in larger steps.
    void piece(std::uint32_t from, std::uint32_t count) {
        std::vector<Stretch> open{{from, count}};
        std::optional<Stretch> passed;
        unsigned in_a_row = 0;
        while (!open.empty() && !read_.stopped) {
            auto const [at, size] = open.back();
            open.pop_back();
            auto const values = ask(at, size);
            if (values) {
                in_a_row = 0;
                // What was passed over just before may hold the beginning of this run.
                if (passed && passed->first + passed->second == at) {
                    read_.refused -= passed->second;
                    take_apart(*passed, open);
                }
                passed.reset();
                profile::put_registers(read_.image, asked_.function, static_cast<std::uint16_t>(at), *values);
                continue;
            }
            if (!only_refused(values.error())) {
                read_.stopped = values.error();
                return;
            }
            if (size == 1) {
                ++read_.refused;
                ++in_a_row;
                continue;
            }
            if (in_a_row >= give_up_after && size <= passed_over) {
                read_.refused += size;
                passed = Stretch{at, size};
                continue;
            }
            take_apart({at, size}, open);
        }
    }

    std::expected<codec::Registers, codec::Fault> ask(std::uint32_t at, std::uint32_t count) {
        ++read_.questions;
        return port::read_registers(line_, unit_, asked_.function, static_cast<std::uint16_t>(at),
                                    static_cast<std::uint16_t>(count));
    }

    port::Line& line_;
    std::uint8_t unit_;
    RunAsked asked_;
    std::function<bool(unsigned)> const& progress_;
    RunRead read_;
};

}  // namespace

RunRead read_run(port::Line& line, std::uint8_t unit, RunAsked const& asked,
                 std::function<bool(unsigned)> const& progress) {
    return Reading(line, unit, asked, progress).run();
}

}  // namespace phasewright::decoder
