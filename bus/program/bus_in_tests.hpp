// For tests: meters on a line without a wire. They take writes as their profile says, move to a new address
// or format, rescale what they counted or keep it, and the whole program can be killed at any question and at
// any line of the journal.
#pragma once
#include <doctest/doctest.h>

#include <memory>
#include <string>
#include <vector>

#include "bus/profile/decode.hpp"
#include "bus/profile/encode.hpp"
#include "bus/profile/profile.hpp"
#include "bus/profile/raw_number.hpp"
#include "bus/program/connection.hpp"
#include "bus/program/journal.hpp"

namespace phasewright::program {

struct Killed {};  // thrown where the power goes off

// Where the power goes off: at the n-th event, which is a question that is not sent, a question whose answer
// is lost, or a line of the journal that is lost, torn or whole.
struct PowerCut {
    int at = -1;  // never
    int seen = 0;
    [[nodiscard]] bool now() { return at >= 0 && seen++ == at; }
};

struct FakeMeter {
    profile::Profile const* profile = nullptr;
    profile::RegisterImage image;
    std::uint8_t unit = 1;
    plan::SerialFormat format;
    bool rescales = false;
    bool ignores_writes = false;
    bool two_without_parity = true;  // stop bits, where they cannot be set
    std::optional<std::pair<std::uint16_t, std::uint16_t>>
        unlock;                        // writes elsewhere are refused until it holds this
    std::vector<std::string> written;  // "16:2888=200"

    [[nodiscard]] double value(profile::SettingName name) const {
        return profile::setting_in(*profile::find_setting(*profile, name), image).value_or(-1.0);
    }
    // At once: where the registers say it answers.
    void move() {
        auto const take = [&](profile::SettingName name, auto&& use) {
            auto const* const setting = profile::find_setting(*profile, name);
            if (setting == nullptr || setting->takes_effect == profile::TakesEffect::after_restart) return;
            if (auto const value = profile::setting_in(*setting, image)) use(*value);
        };
        take(profile::SettingName::address, [&](double v) { unit = static_cast<std::uint8_t>(v); });
        take(profile::SettingName::bit_rate, [&](double v) { format.bit_rate = static_cast<int>(v); });
        take(profile::SettingName::parity, [&](double v) {
            format.parity = static_cast<plan::Parity>(static_cast<int>(v));
            bool const own = profile::find_setting(*profile, profile::SettingName::stop_bits) == nullptr;
            if (own) format.stop_bits = two_without_parity && format.parity == plan::Parity::none ? 2 : 1;
        });
        take(profile::SettingName::stop_bits, [&](double v) { format.stop_bits = static_cast<int>(v); });
    }
    void restart() {
        for (auto const name :
             {profile::SettingName::address, profile::SettingName::bit_rate, profile::SettingName::parity}) {
            if (profile::find_setting(*profile, name) == nullptr) continue;
            double const v = value(name);
            if (name == profile::SettingName::address) unit = static_cast<std::uint8_t>(v);
            if (name == profile::SettingName::bit_rate) format.bit_rate = static_cast<int>(v);
            if (name == profile::SettingName::parity)
                format.parity = static_cast<plan::Parity>(static_cast<int>(v));
        }
    }
    [[nodiscard]] codec::Bytes answer(codec::BytesView question) {
        auto const function = codec::u8_at(question, 0);
        auto const parsed = codec::parse_question(question);
        if (!parsed) return codec::exception_pdu(function, parsed.error());
        if (auto const* read = std::get_if<codec::ReadRegisters>(&*parsed)) {
            auto const values = profile::serve(image, *read);
            if (!values) return codec::exception_pdu(function, values.error());
            return codec::registers_pdu(*read, *values);
        }
        if (auto const* one = std::get_if<codec::WriteRegister>(&*parsed)) {
            if (!take(6, one->address, {one->value}))
                return codec::exception_pdu(function, codec::ExceptionCode::illegal_data_address);
            return codec::written_pdu(*one);
        }
        if (auto const* many = std::get_if<codec::WriteRegisters>(&*parsed)) {
            if (!take(16, many->address, many->values))
                return codec::exception_pdu(function, codec::ExceptionCode::illegal_data_address);
            return codec::written_pdu(*many);
        }
        if (objects.empty()) return codec::exception_pdu(function, codec::ExceptionCode::illegal_function);
        return codec::identification_pdu(std::get<codec::ReadIdentification>(*parsed), objects).value();
    }
    std::vector<codec::IdentificationObject> objects;

private:
    bool take(int function, std::uint16_t address, codec::Registers const& values) {
        bool const is_key = unlock && address == unlock->first;
        if (unlock && !is_key && image.holding[unlock->first] != unlock->second) return false;
        for (auto const value : values)
            written.push_back(std::to_string(function) + ":" + std::to_string(address) + "=" +
                              std::to_string(value));
        if (ignores_writes) return true;
        double const before = value(profile::SettingName::ct_primary);
        profile::put_registers(image, codec::Function::read_holding_registers, address, values);
        double const after = value(profile::SettingName::ct_primary);
        if (rescales && before > 0.0 && after != before) {
            for (auto const& energy : profile->energies)
                for (std::size_t k = 0; k < energy.fields.size(); ++k) {
                    auto const count = profile::value_of(energy.fields[k], image).value_or(0.0);
                    profile::put_energy(image, energy, k, count * after / before);
                }
        }
        return true;
    }
};

struct FakeBus {
    std::vector<FakeMeter*> meters;
    PowerCut cut;
    double now_s = 1779264000.25;  // our time: 2026-05-20 08:00:00.25 UTC
    int questions = 0;
    std::vector<int> asked_units;
};

class FakeLine final : public port::Line {
public:
    FakeLine(FakeBus& bus, std::optional<plan::SerialFormat> at) : format(at), bus_(bus) {}
    std::expected<codec::Bytes, codec::Fault> ask(std::uint8_t unit, codec::BytesView question) override {
        if (bus_.cut.now()) throw Killed{};
        ++bus_.questions;
        bus_.now_s += 0.02;
        bus_.asked_units.push_back(unit);
        std::vector<codec::Bytes> answers;
        for (auto* const meter : bus_.meters)
            if (meter->unit == unit && (!format || meter->format == *format))
                answers.push_back(meter->answer(question));
        // Only when the answer is on its way does the meter go elsewhere.
        for (auto* const meter : bus_.meters) meter->move();
        if (bus_.cut.now()) throw Killed{};
        if (answers.empty())
            return std::unexpected(codec::Fault{.kind = codec::FaultKind::no_answer, .detail = "silence"});
        if (answers.size() > 1 && answers[0] != answers[1]) {
            ++strange;
            return std::unexpected(codec::Fault{.kind = codec::FaultKind::garbled, .detail = "two at once"});
        }
        if ((codec::u8_at(answers[0], 0) & 0x80U) != 0)
            return std::unexpected(
                codec::Fault{.kind = codec::FaultKind::refused, .exception = codec::u8_at(answers[0], 1)});
        return answers[0];
    }
    std::string place() const override { return "test line"; }
    double now_s() const override { return bus_.now_s; }

    std::optional<plan::SerialFormat> format;
    std::size_t strange = 0;

private:
    FakeBus& bus_;
};

class FakeConnection final : public Connection {
public:
    FakeConnection(FakeBus& bus, std::optional<plan::SerialFormat> format) : line_(bus, format) {}
    port::Line& line() override { return line_; }
    std::optional<plan::SerialFormat> format() const override { return line_.format; }
    std::expected<void, codec::Fault> reopen(plan::SerialFormat const& format) override {
        if (!line_.format) return std::unexpected(codec::Fault{.kind = codec::FaultKind::not_offered});
        line_.format = format;
        ++reopened;
        return {};
    }
    std::size_t strange() const override { return line_.strange; }
    int reopened = 0;

private:
    FakeLine line_;
};

class MemoryJournal final : public Journal {
public:
    explicit MemoryJournal(PowerCut& cut) : cut_(cut) {}
    std::expected<void, quantity::Fault> append(std::string const& line) override {
        if (!text.empty() && text.back() != '\n') text += '\n';  // what journal_file() does with a torn line
        if (cut_.now()) throw Killed{};
        if (cut_.now()) {
            text += line.substr(0, line.size() / 2);
            throw Killed{};
        }
        text += line + '\n';
        if (cut_.now()) throw Killed{};
        return {};
    }
    std::string text;

private:
    PowerCut& cut_;
};

}  // namespace phasewright::program
