#include "bus/twin/serial_bus.hpp"

#include <algorithm>
#include <optional>
#include <utility>

#include "bus/codec/question.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/twin/dice.hpp"

namespace phasewright::twin {

namespace {
using codec::Bytes;
using codec::BytesView;

// Bits that are read wrong on the way, by the model of pair.hpp.
void spoil(Bytes& bytes, double bit_error, Dice& dice) {
    if (bit_error <= 0.0) return;
    for (auto& byte : bytes)
        for (unsigned bit = 0; bit < 8; ++bit)
            if (dice.uniform() < bit_error) byte ^= static_cast<std::byte>(1U << bit);
}

// A receiver at another speed or parity, or on a crossed pair, makes no characters of what it hears that
// anybody would answer: framing and checksum fail.
bool understands(BusDevice const& device, Pair const& pair, plan::SerialFormat const& format) {
    return passage(pair, device.position) == Passage::clean && device.manners.format == format;
}

std::byte random_byte(Dice& dice) { return static_cast<std::byte>(dice.next() & 0xFFU); }
}  // namespace

struct SerialBus::Spoken {
    double start_s = 0.0;
    double character_s = 0.0;
    double gap_s = 0.0;  // in the middle
    Bytes bytes;
    int position = 1;

    [[nodiscard]] double end_of(std::size_t k) const {
        return start_s + static_cast<double>(k + 1) * character_s + (k >= bytes.size() / 2 ? gap_s : 0.0);
    }
};

SerialBus::SerialBus(Pair pair, std::vector<BusDevice> devices, std::uint64_t seed)
    : pair_(std::move(pair)), devices_(std::move(devices)), seed_(seed), answers_(devices_.size(), 0) {}

std::vector<SerialBus::Spoken> SerialBus::spoken(BytesView question, plan::SerialFormat const& format,
                                                 double heard_at_s) {
    std::vector<Spoken> all;
    for (std::size_t d = 0; d < devices_.size(); ++d) {
        auto const& device = devices_[d];
        auto const& manners = device.manners;
        if (!understands(device, pair_, format)) continue;
        Dice dice(seed_for(seed_, device.name, questions_));
        Bytes heard(question.begin(), question.end());
        spoil(heard, bit_error(pair_, format, device.position), dice);
        auto const frame = codec::read_rtu_frame(heard);
        if (!frame || frame->unit != device.unit || frame->pdu.empty()) continue;
        double start_s = heard_at_s + plan::silence_between_s(format) + manners.answer_delay_s +
                         manners.answer_jitter_s * dice.uniform();
        auto const turn = turn_of(manners, ++answers_[d]);
        if (turn.late) start_s += manners.late_s;
        auto pdu = turn.busy ? codec::exception_pdu(codec::u8_at(frame->pdu, 0),
                                                    codec::ExceptionCode::server_device_busy)
                             : device.answer(frame->pdu, start_s);
        auto bytes = codec::to_bytes({.unit = frame->unit, .pdu = std::move(pdu)});
        if (turn.wrong_crc) bytes.back() ^= std::byte{0x5A};
        if (turn.truncated) bytes.resize(bytes.size() / 2);
        spoil(bytes, bit_error(pair_, format, device.position), dice);
        if (dice.uniform() < burst(pair_))
            for (auto& byte : bytes) byte = random_byte(dice);
        // The head's receiver sees a stray edge where the line was left to itself before this driver took it.
        if (dice.uniform() < stray_byte(pair_))
            bytes.insert(bytes.begin(), dice.uniform() < 0.5 ? std::byte{0x00} : std::byte{0xFF});
        all.push_back(
            {start_s, plan::character_s(format), manners.gap_inside_s, std::move(bytes), device.position});
    }
    return all;
}

namespace {
// Drivers that fight give bits of neither. Where two bytes begin at the same moment, each bit is taken from
// one of them; where one begins inside the other, the receiver is out of step with both.
std::vector<TimedByte> collided(std::vector<TimedByte> all, double character_s, Dice& dice) {
    std::ranges::stable_sort(all, {}, &TimedByte::at_s);
    std::vector<TimedByte> heard;
    for (auto const& byte : all) {
        double const later = heard.empty() ? character_s : byte.at_s - heard.back().at_s;
        if (later < 0.95 * character_s) {
            auto const mask = random_byte(dice);
            bool const in_step = later < 0.05 * character_s;
            heard.back().value = in_step ? (heard.back().value & mask) | (byte.value & ~mask) : mask;
            continue;
        }
        heard.push_back(byte);
    }
    return heard;
}
}  // namespace

std::vector<TimedByte> SerialBus::respond(BytesView question, plan::SerialFormat const& format,
                                          double start_s) {
    ++questions_;
    std::vector<TimedByte> all;
    double const character_s = plan::character_s(format);
    if (pair_.adapter_echoes)
        for (std::size_t k = 0; k < question.size(); ++k)
            all.push_back({start_s + static_cast<double>(k + 1) * character_s, question[k]});
    double const heard_at_s = start_s + static_cast<double>(question.size()) * character_s;
    for (auto const& one : spoken(question, format, heard_at_s))
        for (std::size_t k = 0; k < one.bytes.size(); ++k) all.push_back({one.end_of(k), one.bytes[k]});
    Dice dice(seed_for(seed_, "collision", questions_));
    return collided(std::move(all), character_s, dice);
}

}  // namespace phasewright::twin
