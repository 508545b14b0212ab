// What a serial port and a TCP connection have in common: a descriptor that bytes go through both ways, opened anew
// after it was lost. How it is opened is the caller's.
#pragma once
#include <functional>

#include "bus/port/bell.hpp"
#include "bus/port/channel.hpp"

namespace phasewright::port {

// An open descriptor, closed with its owner.
class Descriptor {
public:
    explicit Descriptor(int number = -1) : number_(number) {}
    Descriptor(Descriptor&& other) noexcept : number_(other.release()) {}
    Descriptor& operator=(Descriptor&& other) noexcept;
    Descriptor(Descriptor const&) = delete;
    Descriptor& operator=(Descriptor const&) = delete;
    ~Descriptor() { reset(); }

    [[nodiscard]] int get() const { return number_; }
    [[nodiscard]] bool open() const { return number_ >= 0; }
    void reset();
    [[nodiscard]] int release();

private:
    int number_;
};

class Stream : public Channel {
public:
    std::expected<void, codec::Fault> send(codec::BytesView bytes, SteadyTime deadline) override;
    std::expected<Piece, codec::Fault> receive(SteadyTime deadline) override;
    void discard_input() override;
    void cancel() noexcept override { bell_.ring(); }
    void resume() noexcept override { bell_.hush(); }

protected:
    [[nodiscard]] Descriptor& descriptor() { return descriptor_; }
    [[nodiscard]] Descriptor const& descriptor() const { return descriptor_; }
    [[nodiscard]] Bell const& bell() const { return bell_; }

    // As write(2); a socket must not raise SIGPIPE.
    [[nodiscard]] virtual long write_some(codec::BytesView bytes);

private:
    codec::Fault lost(int error);

    Descriptor descriptor_;
    Bell bell_;
};

[[nodiscard]] codec::Fault cancelled_fault();

}  // namespace phasewright::port
