// The virtual meters as a process of their own. They end when the pipe to their standard input closes, so
// they never outlive the job: not when it is done, not when it is interrupted, not when it falls.
#pragma once
#include <expected>
#include <filesystem>
#include <optional>
#include <string>

#include <sys/types.h>

#include "core/quantity/fault.hpp"

namespace phasewright::commands {

struct TwinCall {
    std::filesystem::path executable;
    std::filesystem::path plan_file;
    std::filesystem::path wired_file;
    std::filesystem::path profiles_folder;
    double patience_s = 30.0;  // until every meter listens
    std::optional<std::filesystem::path> bus_file;  // how its buses really are; else as planned
};

class TwinChild {
public:
    // Returns once the meters listen; what they say on the error output goes to ours.
    [[nodiscard]] static std::expected<TwinChild, quantity::Fault> start(TwinCall const& call);

    TwinChild(TwinChild&& other) noexcept;
    TwinChild& operator=(TwinChild&&) = delete;
    TwinChild(TwinChild const&) = delete;
    TwinChild& operator=(TwinChild const&) = delete;
    ~TwinChild();  // closes the pipe and waits for the end

    [[nodiscard]] std::string const& ports() const { return ports_; }  // the text of the ports file

private:
    TwinChild(pid_t process, int input, std::string ports)
        : process_(process), input_(input), ports_(std::move(ports)) {}

    pid_t process_ = -1;
    int input_ = -1;
    std::string ports_;
};

}  // namespace phasewright::commands
