// For tests: a line that is drawn with its faults and then asked, byte by byte. It is written apart from the diagnosis:
// it knows no pseudo-counts, only what happens on a wire (answers that overlap, bits that flip, questions that get lost),
// with rates of its own.
#pragma once
#include <algorithm>
#include <cmath>
#include <optional>
#include <random>
#include <vector>

#include "bus/codec/question.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/linefault/evidence.hpp"
#include "bus/linefault/line_fault.hpp"

namespace phasewright::linefault {

inline constexpr double answer_timeout_s = 0.5;

class DrawnLine {
public:
    explicit DrawnLine(std::uint32_t seed) : dice_(seed) {}

    std::size_t devices = 8;
    std::vector<NamedFault> faults;

    [[nodiscard]] double uniform() { return static_cast<double>(dice_()) / 4294967296.0; }
    [[nodiscard]] bool chance(double p) { return uniform() < p; }
    [[nodiscard]] int below(int most) { return static_cast<int>(uniform() * most); }
    [[nodiscard]] bool has(LineFault kind, int device = -1) const {
        return std::any_of(faults.begin(), faults.end(), [&](NamedFault const& fault) {
            return fault.kind == kind && (device < 0 || fault.device == device);
        });
    }

    // Faults as often as the diagnosis believes them to be.
    void draw_faults(Priors const& priors) {
        int const count = static_cast<int>(devices);
        double left = uniform();
        auto const falls = [&](double p) { return (left -= p) < 0.0 && left + p >= 0.0; };
        auto const joint = [&] { return 1 + below(count - 1); };
        auto const& trunk = priors.trunk;
        if (falls(trunk.crossed_at_head)) faults.push_back({.kind = LineFault::crossed, .after = 0});
        if (falls(trunk.crossed_at_a_joint)) faults.push_back({.kind = LineFault::crossed, .after = joint()});
        if (falls(trunk.broken_at_head)) faults.push_back({.kind = LineFault::broken, .after = 0});
        if (falls(trunk.broken_at_a_joint)) faults.push_back({.kind = LineFault::broken, .after = joint()});
        if (falls(trunk.half_broken)) faults.push_back({.kind = LineFault::half_broken, .after = below(count)});
        if (falls(trunk.crossed_twice)) {
            int const a = below(count - 1);
            faults.push_back({.kind = LineFault::crossed_twice, .after = a, .until = a + 1 + below(count - 1 - a)});
        }
        left = uniform();
        auto const& line = priors.line;
        if (falls(line.wrong_format)) faults.push_back({.kind = LineFault::wrong_format});
        if (falls(line.supply_off)) faults.push_back({.kind = LineFault::supply_off});
        if (falls(line.gaps_too_short)) faults.push_back({.kind = LineFault::gaps_too_short});
        if (falls(line.another_master)) faults.push_back({.kind = LineFault::another_master});
        if (falls(line.adapter_echo)) faults.push_back({.kind = LineFault::adapter_echo});
        left = uniform();
        for (auto const& one : electrical_priors(priors))
            if (falls(one.probability)) faults.push_back({.kind = one.fault});
        draw_device_faults(priors);
    }

    // Every device asked so often, the exchanges as a port would report them.
    [[nodiscard]] Evidence asked(int tries) {
        Evidence evidence;
        for (std::size_t i = 0; i < devices; ++i)
            evidence.devices.push_back({.unit = static_cast<std::uint8_t>(i + 1), .name = {}, .position = static_cast<int>(i) + 1});
        settle_rates();
        for (int round = 0; round < tries; ++round)
            for (std::size_t i = 0; i < devices; ++i) {
                auto const seen = seen_in(exchange(static_cast<int>(i)), answer_timeout_s);
                evidence.tries.push_back({.device = i, .came = seen.came, .echoed = seen.echoed});
            }
        evidence.heard_before = has(LineFault::another_master) && chance(0.9);
        return evidence;
    }

    // As a port reports one try at this device.
    [[nodiscard]] port::Exchange exchange(int device) {
        auto const unit = static_cast<std::uint8_t>(device + 1);
        port::Exchange exchange{.unit = unit};
        auto const question = codec::question_pdu(codec::ReadRegisters{.address = 100, .count = 10}).value();
        exchange.sent = codec::to_bytes({.unit = unit, .pdu = question});
        if (has(LineFault::adapter_echo)) {
            exchange.heard = exchange.sent;
            exchange.echoed = exchange.sent.size();
            exchange.arrivals.push_back({0.0, exchange.heard.size()});
        }
        auto const [bytes, after_s] = came_back(device);
        if (!bytes.empty()) exchange.arrivals.push_back({after_s, bytes.size()});
        codec::put_bytes(exchange.heard, bytes);
        return exchange;
    }

    [[nodiscard]] bool cut_off(int device) const {
        return std::any_of(faults.begin(), faults.end(), [&](NamedFault const& fault) {
            if (!is_of_trunk(fault.kind) || fault.kind == LineFault::half_broken) return false;
            return device >= fault.after && (fault.kind != LineFault::crossed_twice || device < fault.until);
        });
    }

private:
    void draw_device_faults(Priors const& priors) {
        int const count = static_cast<int>(devices);
        for (int device = 0; device < count; ++device) {
            double left = uniform();
            auto const falls = [&](double p, LineFault kind) {
                if (left >= 0.0 && left < p) faults.push_back({.kind = kind, .device = device});
                left -= p;
            };
            falls(priors.device.dead, LineFault::device_dead);
            falls(priors.device.wrong_address, LineFault::wrong_address);
            falls(priors.device.wrong_format, LineFault::device_wrong_format);
            falls(priors.device.drop_crossed, LineFault::drop_crossed);
            falls(priors.device.slow, LineFault::device_slow);
            falls(priors.device.duplicate_by_stranger, LineFault::duplicate_address);
        }
        if (!chance(priors.duplicate_by_planned) || count < 2) return;
        int const shared = below(count);
        int const moved = (shared + 1 + below(count - 1)) % count;
        std::erase_if(faults, [&](NamedFault const& fault) { return fault.device == shared || fault.device == moved; });
        faults.push_back({.kind = LineFault::duplicate_address, .device = shared});
        faults.push_back({.kind = LineFault::wrong_address, .device = moved});
    }

    // How bad it is on this line: drawn once.
    void settle_rates() {
        electrical_ = std::any_of(faults.begin(), faults.end(), [](NamedFault const& fault) { return is_electrical(fault.kind); });
        double const kind = uniform();
        flip_ = !electrical_ || kind < 0.45 ? 0.00005 : kind < 0.8 ? 0.001 + 0.004 * uniform() : 0.01 + 0.04 * uniform();
        coupling_ = 0.3 * uniform();
        lax_.clear();
        for (std::size_t i = 0; i < devices; ++i) lax_.push_back(chance(0.25));
        slow_by_s_ = 0.3 + 0.5 * uniform();
        deaf_ = 0.2 + 0.4 * uniform();
        clash_ = 0.2 + 0.5 * uniform();
    }

    codec::Bytes answer_of(int device) {
        codec::Bytes pdu;
        codec::put_u8(pdu, 3);
        codec::put_u8(pdu, 20);
        for (int i = 0; i < 10; ++i) codec::put_u16(pdu, static_cast<unsigned>(below(3) == 0 ? 0 : below(65536)));
        return codec::to_bytes({.unit = static_cast<std::uint8_t>(device + 1), .pdu = pdu});
    }

    void flip(codec::Bytes& bytes, double rate) {
        for (auto& byte : bytes)
            for (unsigned bit = 0; bit < 8; ++bit)
                if (chance(rate)) byte ^= std::byte{1} << bit;
    }

    codec::Bytes glitch(double p) {
        if (!chance(p)) return {};
        return {chance(0.5) ? std::byte{0} : std::byte{0xFF}};
    }

    // Two drivers at once: where they overlap the stronger one of each bit shows.
    codec::Bytes overlapped(codec::Bytes const& first, codec::Bytes const& second) {
        auto const shift = static_cast<std::size_t>(below(12));
        codec::Bytes both(std::max(first.size(), second.size() + shift), std::byte{0});
        std::copy(first.begin(), first.end(), both.begin());
        for (std::size_t i = 0; i < second.size(); ++i) {
            bool const overlaps = i + shift < first.size();
            both[i + shift] = overlaps ? (chance(0.5) ? both[i + shift] & second[i] : both[i + shift] | second[i]) : second[i];
        }
        return both;
    }

    // Every bit twice as long as it is listened to: one byte becomes two.
    static codec::Bytes stretched(codec::Bytes const& bytes) {
        codec::Bytes heard;
        for (auto const byte : bytes) {
            unsigned const bits = std::to_integer<unsigned>(byte);
            unsigned low = 0, high = 0;
            for (unsigned i = 0; i < 4; ++i) {
                low |= (bits >> i & 1U) * (3U << (2 * i));
                high |= (bits >> (i + 4) & 1U) * (3U << (2 * i));
            }
            codec::put_u8(heard, low << 1U & 0xFFU);
            codec::put_u8(heard, high << 1U & 0xFFU);
        }
        return heard;
    }

    std::pair<codec::Bytes, double> came_back(int device) {
        double const soon = 0.02 + 0.08 * uniform();
        if (has(LineFault::another_master) && chance(clash_)) {
            auto const other = answer_of(below(200));
            auto own = cut_off(device) ? codec::Bytes{} : overlapped(answer_of(device), other);
            if (chance(0.4)) own = codec::to_bytes({.unit = static_cast<std::uint8_t>(100 + below(50)),
                                                    .pdu = {std::byte{3}, std::byte{0}, std::byte{9}, std::byte{0}, std::byte{2}}});
            return {own, soon};
        }
        if (has(LineFault::supply_off) || cut_off(device)) return {glitch(0.01), soon};
        for (auto const kind : {LineFault::device_dead, LineFault::wrong_address, LineFault::drop_crossed})
            if (has(kind, device)) return {glitch(0.01), soon};
        if (has(LineFault::wrong_format) || has(LineFault::device_wrong_format, device)) {
            if (!lax_[static_cast<std::size_t>(device)]) return {glitch(0.02), soon};
            auto heard = answer_of(device);
            if (device % 2 == 0) return {stretched(heard), soon};
            flip(heard, 0.06);
            return {heard, soon};
        }
        for (auto const& fault : faults)
            if (fault.kind == LineFault::half_broken && device >= fault.after) {
                if (!chance(coupling_)) return {glitch(0.1), soon};
                auto heard = answer_of(device);
                flip(heard, chance(0.4) ? 0.0 : 0.03);
                return {heard, soon};
            }
        if (has(LineFault::gaps_too_short) && chance(deaf_)) return {{}, soon};
        auto heard = answer_of(device);
        if (has(LineFault::duplicate_address, device)) heard = overlapped(heard, answer_of(device));
        codec::Bytes question(8, std::byte{0x55});
        auto const whole = question;
        flip(question, flip_);
        if (question != whole) return {{}, soon};  // the device did not understand
        flip(heard, flip_);
        if (chance(8.0 * flip_)) heard.erase(heard.begin() + below(static_cast<int>(heard.size())));
        if (has(LineFault::device_slow, device)) {
            double const after_s = slow_by_s_ + 0.2 * uniform();
            if (after_s > 2.0 * answer_timeout_s) return {{}, soon};
            return {heard, after_s};
        }
        return {heard, soon};
    }

    std::mt19937 dice_;
    bool electrical_ = false;
    double flip_ = 0.0, coupling_ = 0.1, slow_by_s_ = 0.5, deaf_ = 0.3, clash_ = 0.3;
    std::vector<bool> lax_;
};

}  // namespace phasewright::linefault
