// One meter while it is written to: where it answers now, and the steps one after the other. Internal to this
// room.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "bus/program/programmer.hpp"

namespace phasewright::program {

// What a meter without a setting of its own for them is taken to use: two without parity (MODBUS over Serial
// Line V1.02, clause 2.5.1), unless its profile says that it cannot.
[[nodiscard]] int usual_stop_bits(profile::Profile const& profile, plan::Parity parity);

class Session {
public:
    Session(Connection& connection, Job const& job, Journal& journal, Purpose purpose)
        : connection_(connection), job_(job), journal_(journal), purpose_(purpose), unit_(job.unit) {}

    [[nodiscard]] Reader reader();
    [[nodiscard]] std::uint8_t unit() const { return unit_; }
    void moved_to(std::uint8_t unit) { unit_ = unit; }
    void knows_offset(std::optional<double> minutes) { offset_min_ = minutes; }

    // Begins the run, writes every step, ends the run; everything goes into the result and the journal.
    void run(Begin const& begin, MeterResult& result);

private:
    struct Written {
        Outcome outcome = Outcome::not_written;
        std::string says;
        std::optional<double> read_back;
    };
    [[nodiscard]] StepResult step(std::size_t at, Step const& step, bool& journal_lost,
                                  std::string& lost_why);
    [[nodiscard]] std::optional<std::string> forbidden(profile::Setting const* setting,
                                                       Step const& step) const;
    [[nodiscard]] std::optional<std::string> not_alone_for(std::uint8_t new_unit);
    [[nodiscard]] std::expected<std::vector<profile::SettingRun>, std::string> registers_for(
        profile::Setting const& setting, Step const& step);
    [[nodiscard]] Written write(profile::Setting const& setting, Step const& step);
    // What the meter was told; empty when all went well. `reached` counts the writes that it took.
    [[nodiscard]] std::optional<codec::Fault> tell(profile::Setting const& setting,
                                                   std::vector<profile::SettingRun> const& runs,
                                                   int& reached);
    [[nodiscard]] std::optional<codec::Fault> put(profile::Setting const& setting, std::uint16_t address,
                                                  codec::Registers const& values);
    [[nodiscard]] std::optional<codec::Fault> follow(profile::SettingName name, double value);
    [[nodiscard]] Written read_back(profile::Setting const& setting, Step const& step);
    [[nodiscard]] std::vector<profile::EnergyCount> energies();
    [[nodiscard]] std::string now() const { return utc_words(job_.unix_now()); }
    void wait(double seconds) const {
        if (job_.wait) job_.wait(seconds);
    }

    Connection& connection_;
    Job const& job_;
    Journal& journal_;
    Purpose purpose_;
    std::uint8_t unit_;
    std::optional<double> offset_min_;  // of the meter's local time, as it says itself
    std::string meter_;                 // who it says it is
};

}  // namespace phasewright::program
