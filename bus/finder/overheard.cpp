#include "bus/finder/overheard.hpp"

#include <algorithm>
#include <map>
#include <optional>

#include <fmt/format.h>

#include "bus/codec/rtu_frame.hpp"

namespace phasewright::finder {

namespace {
using codec::BytesView;
using codec::u8_at;

constexpr std::uint8_t refused = 0x80;

bool checks(BytesView bytes, std::size_t length) {
    if (length < 4 || length > bytes.size() || length > codec::max_rtu_frame_bytes) return false;
    // With its own checksum behind it, the checksum of a frame is zero.
    return codec::crc16(bytes.first(length)) == 0;
}

std::size_t count_behind(BytesView bytes, std::size_t place, std::size_t rest) {
    return place < bytes.size() ? rest + u8_at(bytes, place) : 0;
}

struct Shape {
    std::size_t length = 0;
    FrameRole role = FrameRole::either;
};

// The lengths that a frame with this head may have.
std::vector<Shape> shapes_of(BytesView bytes) {
    if (bytes.size() < 4) return {};
    auto const function = u8_at(bytes, 1);
    if ((function & refused) != 0) return {{5, FrameRole::refusal}};
    switch (function) {
        case 1:
        case 2:
        case 3:
        case 4: return {{8, FrameRole::question}, {count_behind(bytes, 2, 5), FrameRole::answer}};
        case 5:
        case 6: return {{8, FrameRole::either}};
        case 7:
        case 11: return {{4, FrameRole::question}, {function == 7 ? 5U : 8U, FrameRole::answer}};
        case 8: return {{8, FrameRole::either}};
        case 15:
        case 16: return {{count_behind(bytes, 6, 9), FrameRole::question}, {8, FrameRole::answer}};
        case 17: return {{4, FrameRole::question}, {count_behind(bytes, 2, 5), FrameRole::answer}};
        case 22: return {{10, FrameRole::either}};
        case 23: return {{count_behind(bytes, 10, 13), FrameRole::question}, {count_behind(bytes, 2, 5), FrameRole::answer}};
        case 43: break;
        default: return {};
    }
    std::vector<Shape> shapes{{7, FrameRole::question}};
    for (std::size_t length = 8; length <= codec::max_rtu_frame_bytes; ++length)
        shapes.push_back({length, FrameRole::answer});
    return shapes;
}

std::optional<HeardFrame> frame_at(BytesView bytes, std::size_t at) {
    auto const rest = bytes.subspan(at);
    if (rest.size() < 4 || u8_at(rest, 0) > 247) return std::nullopt;
    for (auto const& shape : shapes_of(rest)) {
        if (!checks(rest, shape.length)) continue;
        return HeardFrame{.at = at, .length = shape.length, .unit = u8_at(rest, 0),
                          .function = static_cast<std::uint8_t>(u8_at(rest, 1) & 0x7FU), .role = shape.role};
    }
    return std::nullopt;
}

// A write and its echo are the same bytes: the first of two is the question.
void tell_echoes_apart(std::vector<HeardFrame>& frames) {
    bool open = false;
    HeardFrame const* asked = nullptr;
    for (auto& frame : frames) {
        if (frame.role == FrameRole::either) {
            bool const echo = open && asked != nullptr && asked->unit == frame.unit && asked->function == frame.function;
            frame.role = echo ? FrameRole::answer : FrameRole::question;
        }
        open = frame.role == FrameRole::question;
        asked = &frame;
    }
}

// When the byte at this place had come, since listening began.
double time_of(port::Overheard const& overheard, std::size_t place) {
    std::size_t seen = 0;
    for (auto const& arrival : overheard.arrivals) {
        seen += arrival.bytes;
        if (place < seen) return arrival.after_s;
    }
    return overheard.arrivals.empty() ? 0.0 : overheard.arrivals.back().after_s;
}

std::string numbers(std::vector<int> const& units) {
    std::string text;
    for (std::size_t i = 0; i < units.size(); ++i)
        text += (i == 0 ? "" : i + 1 == units.size() ? " and " : ", ") + std::to_string(units[i]);
    return text;
}
}  // namespace

Heard decoded(port::Overheard const& overheard, double seconds) {
    Heard heard{.frames = {}, .units = {}, .bytes = overheard.bytes.size(), .seconds = seconds};
    BytesView const bytes(overheard.bytes);
    std::size_t at = 0;
    while (at < bytes.size()) {
        if (auto const frame = frame_at(bytes, at)) {
            heard.frames.push_back(*frame);
            at += frame->length;
        } else {
            ++heard.unintelligible;
            ++at;
        }
    }
    tell_echoes_apart(heard.frames);
    std::map<std::uint8_t, HeardUnit> units;
    std::vector<double> asked_at;
    for (auto const& frame : heard.frames) {
        auto& unit = units[frame.unit];
        unit.unit = frame.unit;
        if (frame.role == FrameRole::question) {
            ++unit.questions;
            asked_at.push_back(time_of(overheard, frame.at));
        } else if (frame.role == FrameRole::refusal) {
            ++unit.refusals;
        } else {
            ++unit.answers;
        }
    }
    for (auto const& [number, unit] : units) heard.units.push_back(unit);
    if (asked_at.size() > 1)
        heard.question_every_s = (asked_at.back() - asked_at.front()) / static_cast<double>(asked_at.size() - 1);
    return heard;
}

std::string words_of(Heard const& heard, std::string const& format) {
    auto const within = fmt::format("in {:.0f} s", heard.seconds);
    if (heard.bytes == 0) return within + " nothing was heard";
    auto const at_format = format.empty() ? std::string() : " at " + format;
    if (heard.frames.empty())
        return fmt::format("{} {} bytes were heard{} that make no frame: another speed or parity, or another protocol",
                           within, heard.bytes, at_format);
    std::vector<int> asked, answering, silent;
    for (auto const& unit : heard.units) {
        if (unit.questions > 0) asked.push_back(unit.unit);
        if (unit.answers + unit.refusals > 0) answering.push_back(unit.unit);
        if (unit.questions > 0 && unit.answers + unit.refusals == 0) silent.push_back(unit.unit);
    }
    auto text = fmt::format("{} {} whole frames were heard{}", within, heard.frames.size(), at_format);
    auto const units = [](std::vector<int> const& list) {
        return (list.size() == 1 ? "unit " : "units ") + numbers(list);
    };
    if (!asked.empty()) text += ": questions to " + units(asked);
    if (heard.question_every_s > 0.0) text += fmt::format(" (one every {:.2f} s)", heard.question_every_s);
    if (!answering.empty()) text += (asked.empty() ? ": answers from " : ", answers from ") + units(answering);
    if (!silent.empty()) text += fmt::format(", no answer from {}", units(silent));
    if (heard.unintelligible > 0) text += fmt::format(", and {} bytes that make no frame", heard.unintelligible);
    return text;
}

}  // namespace phasewright::finder
