// For tests: a serial line as a pseudo-terminal. A pty has neither speed nor parity, so the far end itself takes its
// time: bytes are handed on one by one at the pace of the format.
#pragma once
#include <array>
#include <atomic>
#include <chrono>
#include <functional>
#include <stdexcept>
#include <string>
#include <thread>

#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <termios.h>
#include <unistd.h>

#include "bus/codec/bytes.hpp"
#include "core/plan/serial_line.hpp"

namespace phasewright::port {

class FarEnd {
public:
    explicit FarEnd(plan::SerialFormat format = {}) : format_(format) {
        std::array<char, 128> name{};
        int near = -1;
        if (openpty(&master_, &near, name.data(), nullptr, nullptr) != 0) throw std::runtime_error("no pty");
        device_ = name.data();
        termios raw{};
        tcgetattr(near, &raw);
        cfmakeraw(&raw);
        tcsetattr(near, TCSANOW, &raw);
        keep_open_ = near;  // with no open end the master hangs up
    }
    FarEnd(FarEnd const&) = delete;
    FarEnd& operator=(FarEnd const&) = delete;
    ~FarEnd() {
        stop_ = true;
        if (thread_.joinable()) thread_.join();
        unplug();
    }

    [[nodiscard]] std::string const& device() const { return device_; }
    [[nodiscard]] int master() const { return master_; }

    // Runs on a thread of its own until the end of the test: what it returns is sent back, paced.
    void answers_with(std::function<codec::Bytes(codec::Bytes const& question)> answer) {
        thread_ = std::thread([this, answer = std::move(answer)] {
            while (!stop_) {
                auto const question = receive();
                if (!question.empty()) send_paced(answer(question));
            }
        });
    }
    void send(codec::BytesView bytes) const { (void)!::write(master_, bytes.data(), bytes.size()); }
    void send_paced(codec::BytesView bytes) const {
        auto due = std::chrono::steady_clock::now();
        for (auto const byte : bytes) {
            due += std::chrono::duration_cast<std::chrono::steady_clock::duration>(
                std::chrono::duration<double>(plan::character_s(format_)));
            std::this_thread::sleep_until(due);
            send({&byte, 1});
        }
    }
    // Everything until a silence of 20 ms; nothing when the test ends.
    [[nodiscard]] codec::Bytes receive() const {
        codec::Bytes all;
        while (!stop_) {
            pollfd waiting{.fd = master_, .events = POLLIN, .revents = 0};
            if (::poll(&waiting, 1, 20) == 0) {
                if (!all.empty()) break;
                continue;
            }
            std::array<std::byte, 256> buffer{};
            auto const count = ::read(master_, buffer.data(), buffer.size());
            if (count <= 0) break;
            codec::put_bytes(all, codec::BytesView(buffer).first(static_cast<std::size_t>(count)));
        }
        return all;
    }
    void unplug() {
        if (master_ >= 0) ::close(master_);
        if (keep_open_ >= 0) ::close(keep_open_);
        master_ = keep_open_ = -1;
    }

private:
    plan::SerialFormat format_;
    int master_ = -1;
    int keep_open_ = -1;
    std::string device_;
    std::atomic<bool> stop_ = false;
    std::thread thread_;
};

}  // namespace phasewright::port
