// For tests: the least that answers on a serial line. It takes one end of a pseudo-terminal, knows a question whole by
// its checksum, and answers for its units out of one table of holding registers that questions may write; other units
// stay silent, as on a line. Functions 3, 4, 6, 16 and 43/14.
#pragma once
#include <map>
#include <mutex>

#include "bus/codec/question.hpp"
#include "bus/codec/rtu_frame.hpp"
#include "bus/port/pty_in_tests.hpp"

namespace phasewright::port {

class Responder {
public:
    using Units = std::map<std::uint8_t, std::map<std::uint16_t, std::uint16_t>>;  // registers by unit and address

    Responder(std::string const& device, Units units) : units_(std::move(units)) {
        descriptor_ = ::open(device.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK);
        if (descriptor_ < 0) throw std::runtime_error("no " + device);
        thread_ = std::thread([this] { run(); });
    }
    Responder(Responder const&) = delete;
    Responder& operator=(Responder const&) = delete;
    ~Responder() {
        stop_ = true;
        thread_.join();
        ::close(descriptor_);
    }
    [[nodiscard]] std::uint16_t value(std::uint8_t unit, std::uint16_t address) {
        std::scoped_lock const lock(mutex_);
        return units_.at(unit).at(address);
    }
    [[nodiscard]] int answered() const { return answered_; }

private:
    void run() {
        codec::Bytes held;
        while (!stop_) {
            pollfd waiting{.fd = descriptor_, .events = POLLIN, .revents = 0};
            if (::poll(&waiting, 1, 20) == 0) {
                held.clear();  // a silence: what is not whole by now never will be
                continue;
            }
            std::array<std::byte, 256> buffer{};
            auto const count = ::read(descriptor_, buffer.data(), buffer.size());
            if (count <= 0) continue;
            codec::put_bytes(held, codec::BytesView(buffer).first(static_cast<std::size_t>(count)));
            auto const frame = codec::read_rtu_frame(held);
            if (!frame) continue;
            held.clear();
            auto const answer = answer_to(*frame);
            if (answer.empty()) continue;
            auto const bytes = codec::to_bytes({.unit = frame->unit, .pdu = answer});
            (void)!::write(descriptor_, bytes.data(), bytes.size());
            ++answered_;
        }
    }

    codec::Bytes answer_to(codec::RtuFrame const& frame) {
        std::scoped_lock const lock(mutex_);
        auto const unit = units_.find(frame.unit);
        if (unit == units_.end()) return {};
        auto const function = codec::u8_at(frame.pdu, 0);
        auto const question = codec::parse_question(frame.pdu);
        if (!question) return codec::exception_pdu(function, question.error());
        auto const missing = codec::exception_pdu(function, codec::ExceptionCode::illegal_data_address);
        auto& registers = unit->second;
        if (auto const* const read = std::get_if<codec::ReadRegisters>(&*question)) {
            codec::Registers values;
            for (unsigned at = read->address; at < unsigned{read->address} + read->count; ++at) {
                auto const found = registers.find(static_cast<std::uint16_t>(at));
                if (found == registers.end()) return missing;
                values.push_back(found->second);
            }
            return codec::registers_pdu(*read, values);
        }
        if (auto const* const write = std::get_if<codec::WriteRegister>(&*question)) {
            if (!registers.contains(write->address)) return missing;
            registers[write->address] = write->value;
            return codec::written_pdu(*write);
        }
        if (auto const* const write = std::get_if<codec::WriteRegisters>(&*question)) {
            for (std::size_t k = 0; k < write->values.size(); ++k)
                if (!registers.contains(static_cast<std::uint16_t>(write->address + k))) return missing;
            for (std::size_t k = 0; k < write->values.size(); ++k)
                registers[static_cast<std::uint16_t>(write->address + k)] = write->values[k];
            return codec::written_pdu(*write);
        }
        auto const pdu = codec::identification_pdu(
            std::get<codec::ReadIdentification>(*question),
            {{.id = 0, .text = "Oakenmere"}, {.id = 1, .text = "OK-3"}, {.id = 2, .text = "V1.0"}});
        return pdu ? *pdu : codec::exception_pdu(function, pdu.error());
    }

    Units units_;
    std::mutex mutex_;
    std::atomic<bool> stop_ = false;
    std::atomic<int> answered_ = 0;
    int descriptor_ = -1;
    std::thread thread_;
};

}  // namespace phasewright::port
