#include "bus/program/session.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "bus/program/old_totals.hpp"

namespace phasewright::program {

namespace {

using codec::Fault;
using codec::FaultKind;
using profile::SettingName;

constexpr int looks_at_the_old =
    5;  // this project's choice: a collision that spares one answer seldom spares five
constexpr int looks_at_the_new = 3;
constexpr int looks_for_the_change = 3;
constexpr double settle_s = 0.3;

bool is_silence(Fault const& fault) {
    if (fault.kind == FaultKind::no_answer) return true;
    // A gateway answers for the silence behind it.
    return fault.kind == FaultKind::refused && (fault.exception == 0x0B || fault.exception == 0x0A);
}

// The setting's own registers and no others.
bool are_its_registers(profile::Setting const& setting, std::vector<profile::SettingRun> const& runs) {
    std::set<int> own;
    std::set<int> meant;
    for (auto const& piece : profile::setting_registers(setting))
        for (int at = 0; at < piece.count; ++at) own.insert(piece.first + at);
    for (auto const& run : runs)
        for (std::size_t at = 0; at < run.values.size(); ++at)
            meant.insert(run.address + static_cast<int>(at));
    return !meant.empty() && own == meant;
}

profile::RegisterImage image_of(std::vector<profile::SettingRun> const& runs) {
    profile::RegisterImage image;
    for (auto const& run : runs)
        profile::put_registers(image, codec::Function::read_holding_registers, run.address, run.values);
    return image;
}

bool near(double a, double b) { return std::abs(a - b) <= 1e-6 * std::max({1.0, std::abs(a), std::abs(b)}); }

bool moves_the_meter(profile::Setting const& setting) {
    return profile::changes_the_bus(setting.name) &&
           setting.takes_effect != profile::TakesEffect::after_restart;
}

double factor_of(Step const& step) {
    if (!step.from || !step.to || *step.from <= 0.0) return 0.0;
    bool const primary = step.setting == SettingName::ct_primary || step.setting == SettingName::vt_primary;
    return primary ? *step.to / *step.from : *step.from / *step.to;
}

}  // namespace

int usual_stop_bits(profile::Profile const& profile, plan::Parity parity) {
    int const usual = parity == plan::Parity::none ? 2 : 1;
    auto const& bus = profile.hardware.bus;
    bool const offered =
        !bus || bus->stop_bits.empty() || std::ranges::find(bus->stop_bits, usual) != bus->stop_bits.end();
    return offered ? usual : bus->stop_bits.front();
}

Reader Session::reader() {
    return {connection_.line(), *job_.profile, job_.unix_now, job_.planned_offset_min};
}

std::vector<profile::EnergyCount> Session::energies() {
    auto found = profile::read_energies(connection_.line(), unit_, *job_.profile);
    return found ? std::move(found->counts) : std::vector<profile::EnergyCount>{};
}

// What must never be written, checked again for every step: also a journal is only a file.
std::optional<std::string> Session::forbidden(profile::Setting const* setting, Step const& step) const {
    if (job_.profile->legal) return "this meter is sealed or its counts are billed: it is never written";
    if (unit_ == 0) return "nothing is ever broadcast";
    if (setting == nullptr || !setting->write)
        return "the profile does not list this setting as one that may be written";
    bool const format = step.setting > SettingName::address;
    if (format && !connection_.format())
        return "over TCP the line's own format cannot follow, and the meter would be lost to its gateway";
    if (setting->clock) {
        if (!step.to) return "how far the clock was off is not known";
        return std::nullopt;
    }
    if (!are_its_registers(*setting, step.to_registers)) return "these are not the setting's registers";
    auto const value = profile::setting_in(*setting, image_of(step.to_registers));
    if (step.setting == SettingName::address && (!value || *value < 1.0 || *value > 247.0))
        return "an address is 1 to 247";
    if (purpose_ == Purpose::undo) return std::nullopt;  // what was found may be put back, whatever it was
    if (!step.to || !value || !near(*value, *step.to))
        return "these registers do not hold the value that is meant";
    if (auto const fault = profile::not_allowed(*setting, *step.to)) return fault->what;
    return std::nullopt;
}

std::optional<std::string> Session::not_alone_for(std::uint8_t new_unit) {
    if (new_unit == unit_) return std::nullopt;
    auto const strange = connection_.strange();
    std::optional<MeterState> first;
    for (int look = 0; look < looks_at_the_old; ++look) {
        auto state = read_identity(reader(), unit_);
        if (!state)
            return fmt::format("address {} did not answer cleanly ({}): there may be two devices", unit_,
                               codec::name_of(state.error().kind));
        if (first && (state->meter != first->meter || state->image != first->image))
            return fmt::format("the answers from address {} differ: there may be two devices", unit_);
        if (!first) first = std::move(*state);
    }
    for (int look = 0; look < looks_at_the_new; ++look) {
        auto const pieces =
            profile::setting_registers(*profile::find_setting(*job_.profile, SettingName::address));
        auto const& piece = pieces.front();
        auto const found =
            port::read_registers(connection_.line(), new_unit, static_cast<codec::Function>(piece.function),
                                 static_cast<std::uint16_t>(piece.first), 1);
        if (found || !is_silence(found.error()))
            return fmt::format("a device answers at address {} already", new_unit);
    }
    if (connection_.strange() != strange)
        return "something else than clean answers came: there may be two devices";
    return std::nullopt;
}

std::expected<std::vector<profile::SettingRun>, std::string> Session::registers_for(
    profile::Setting const& setting, Step const& step) {
    if (!setting.clock) return step.to_registers;
    // The meter takes whole seconds: it is told one just as it begins.
    double const fraction = job_.unix_now() - std::floor(job_.unix_now());
    if (job_.wait) wait(1.0 - fraction);
    auto const right = meter_calendar_s(setting, job_.unix_now() + (job_.wait ? 0.05 : 0.5), offset_min_,
                                        job_.planned_offset_min);
    if (!right) return std::unexpected("the meter keeps local time, and nobody tells which");
    auto runs = profile::runs_for(setting, std::floor(*right + *step.to));
    if (!runs) return std::unexpected(runs.error().what);
    return std::move(*runs);
}

std::optional<Fault> Session::put(profile::Setting const& setting, std::uint16_t address,
                                  codec::Registers const& values) {
    if (*setting.write == codec::Function::write_single_register && values.size() == 1) {
        auto const done = port::write_register(connection_.line(), unit_, address, values.front());
        return done ? std::nullopt : std::optional(done.error());
    }
    auto const done = port::write_registers(connection_.line(), unit_, address, values);
    return done ? std::nullopt : std::optional(done.error());
}

// After a bus setting that works at once the meter answers elsewhere.
std::optional<Fault> Session::follow(SettingName name, double value) {
    if (name == SettingName::address) {
        unit_ = static_cast<std::uint8_t>(value);
        return std::nullopt;
    }
    auto format = connection_.format().value_or(plan::SerialFormat{});
    if (name == SettingName::bit_rate) format.bit_rate = static_cast<int>(value);
    if (name == SettingName::parity) {
        format.parity = static_cast<plan::Parity>(static_cast<int>(value));
        if (!profile::find_setting(*job_.profile, SettingName::stop_bits))
            format.stop_bits = usual_stop_bits(*job_.profile, format.parity);
    }
    if (name == SettingName::stop_bits) format.stop_bits = static_cast<int>(value);
    if (auto const done = connection_.reopen(format); !done) return done.error();
    wait(settle_s);
    bool const stop_bits_follow =
        name == SettingName::parity && !profile::find_setting(*job_.profile, SettingName::stop_bits);
    if (!stop_bits_follow || read_identity(reader(), unit_)) return std::nullopt;
    // Without parity the specification wants two stop bits, and many devices have one all the same.
    auto other = format;
    other.stop_bits = 3 - format.stop_bits;
    auto done = connection_.reopen(other);
    if (!done || !read_identity(reader(), unit_)) done = connection_.reopen(format);
    return done ? std::nullopt : std::optional(done.error());
}

std::optional<Fault> Session::tell(profile::Setting const& setting,
                                   std::vector<profile::SettingRun> const& runs, int& reached) {
    std::optional<Fault> failed;
    for (auto const& one : setting.before) {
        if (auto fault = put(setting, one.address, {one.value})) return fault;
        ++reached;
    }
    for (auto const& run : runs) {
        failed = put(setting, run.address, run.values);
        if (failed) break;
        ++reached;
    }
    if (moves_the_meter(setting)) {
        // It may have answered from where it went already: the reading back decides.
        bool const unsure = failed && !surely_not_done(*failed);
        auto const value = profile::setting_in(setting, image_of(runs));
        if ((!failed || unsure) && value) {
            if (auto fault = follow(setting.name, *value)) return fault;
            if (unsure) ++reached;
            failed.reset();
        }
    }
    if (failed && !surely_not_done(*failed)) return failed;
    // What was unlocked is locked again, also after a refusal.
    if (failed && setting.before.empty()) return failed;
    for (auto const& one : setting.after) {
        auto fault = put(setting, one.address, {one.value});
        if (fault && !failed) return fault;
        if (!fault) ++reached;
    }
    return failed;
}

Session::Written Session::read_back(profile::Setting const& setting, Step const& step) {
    std::optional<Fault> failed;
    for (int look = 0; look < looks_for_the_change; ++look) {
        if (look > 0) wait(settle_s);
        auto const one = read_setting(reader(), unit_, setting, offset_min_);
        if (!one) {
            failed = one.error();
            continue;
        }
        bool right = false;
        if (setting.clock) {
            right = one->value &&
                    std::abs(*one->value - *step.to) <= 2.0 + one->clock_uncertainty_s.value_or(0.0);
        } else {
            auto const meant = image_of(step.to_registers);
            right = std::ranges::all_of(meant.holding, [&](auto const& word) {
                return profile::register_at(one->image, codec::Function::read_holding_registers,
                                            word.first) == word.second;
            });
        }
        if (right) return {Outcome::written, {}, one->value};
        return {Outcome::in_doubt,
                fmt::format("it was written, and the meter shows {} all the same",
                            one->value ? value_words(setting.name, *one->value) : "something else"),
                one->value};
    }
    return {
        Outcome::in_doubt, fmt::format("it could not be read back: {}", codec::name_of(failed->kind)), {}};
}

Session::Written Session::write(profile::Setting const& setting, Step const& step) {
    auto const old_unit = unit_;
    auto const old_format = connection_.format();
    auto const runs = registers_for(setting, step);
    if (!runs) return {Outcome::not_written, runs.error(), {}};
    int reached = 0;
    auto const failed = tell(setting, *runs, reached);
    bool const moved = moves_the_meter(setting);
    if (failed && !moved) {
        bool const clean = surely_not_done(*failed) && reached == 0;
        return {clean ? Outcome::not_written : Outcome::in_doubt, codec::to_finding(*failed), {}};
    }
    auto result = read_back(setting, step);
    if (result.outcome == Outcome::written) {
        if (failed) {
            result.outcome = Outcome::in_doubt;
            result.says =
                "the value is there, and what the meter wants after it failed: " + codec::to_finding(*failed);
        } else if (setting.takes_effect == profile::TakesEffect::after_restart) {
            result.says = "it works when the meter has been restarted";
        }
        return result;
    }
    if (!moved) return result;
    // The way back: where it answered before.
    unit_ = old_unit;
    if (old_format && connection_.format() != old_format && !connection_.reopen(*old_format))
        return {Outcome::in_doubt, "the line could not be opened as it was before", {}};
    wait(settle_s);
    auto const there = read_identity(reader(), unit_);
    if (there && there->meter == meter_) {
        // It did not move. Whether the register took the value is read from it.
        auto back = read_back(setting, step);
        if (back.outcome == Outcome::written)
            return {Outcome::in_doubt,
                    "the register took it, and the meter still answers as before: it may need a restart",
                    back.read_back};
        back.says = "the meter did not take it and answers as before";
        return back;
    }
    return {Outcome::in_doubt,
            "the meter answers neither as before nor as it was told: look for it with the old and the "
            "new address and format",
            {}};
}

StepResult Session::step(std::size_t at, Step const& step, bool& journal_lost, std::string& lost_why) {
    StepResult result{.setting = step.setting, .from = step.from, .to = step.to};
    auto const* const setting = profile::find_setting(*job_.profile, step.setting);
    auto const note = [&](std::string const& line) {
        if (auto const kept = journal_.append(line); !kept) {
            journal_lost = true;
            lost_why = quantity::to_sentence(kept.error());
        }
        return !journal_lost;
    };
    auto stop = forbidden(setting, step);
    if (!stop && step.setting == SettingName::address)
        stop = not_alone_for(
            static_cast<std::uint8_t>(*profile::setting_in(*setting, image_of(step.to_registers))));
    if (stop) {
        result.says = *stop;
        note(not_written_line(job_.run, now(), at, step.setting, *stop, false));
        return result;
    }
    bool const ratio = profile::is_ratio(step.setting);
    auto const before = ratio ? energies() : std::vector<profile::EnergyCount>{};
    if (!note(writing_line(job_.run, now(), at, step.setting,
                           ratio ? std::optional(values_of(before)) : std::nullopt)))
        return result;
    auto const written = write(*setting, step);
    result.outcome = written.outcome;
    result.says = written.says;
    result.read_back = written.read_back;
    if (step.setting == SettingName::time_zone && written.read_back) offset_min_ = written.read_back;
    if (written.outcome != Outcome::written) {
        note(not_written_line(job_.run, now(), at, step.setting, written.says,
                              written.outcome == Outcome::in_doubt));
        return result;
    }
    std::optional<Energies> after_values;
    if (ratio) {
        auto const after = energies();
        result.old_totals = judged_totals(before, after, factor_of(step));
        result.totals_words = totals_words(before, after);
        after_values = values_of(after);
        bool const contrary =
            (result.old_totals == OldTotals::kept && setting->rescales_energy == profile::Rescales::yes) ||
            (result.old_totals == OldTotals::rescaled && setting->rescales_energy == profile::Rescales::no);
        if (contrary) result.says = "the profile says otherwise of what becomes of old totals";
    }
    note(written_line(job_.run, now(), at, step.setting, written.read_back, after_values, result.old_totals));
    return result;
}

void Session::run(Begin const& begin, MeterResult& result) {
    meter_ = begin.meter;
    auto const& steps = begin.steps;
    if (auto const kept = journal_.append(begin_line(job_.run, now(), begin)); !kept) {
        result.failed = quantity::to_sentence(kept.error());
        return;
    }
    bool lost = false;
    std::string why;
    bool all = true;
    for (std::size_t at = 0; at < steps.size() && !lost; ++at) {
        result.steps.push_back(step(at, steps[at], lost, why));
        all = all && result.steps.back().outcome == Outcome::written;
        if (result.steps.back().outcome != Outcome::in_doubt) continue;
        // A meter that was lost on the way is not written to any more.
        auto const there = read_identity(reader(), unit_);
        if (there && there->meter == meter_) continue;
        result.failed = "the meter no longer answers as it did; the steps that remain were not begun";
        all = false;
        break;
    }
    if (lost) {
        result.failed = why;
        return;
    }
    result.unit = unit_;
    result.format = connection_.format();
    result.whole = all && result.steps.size() == steps.size();
    // A run that lost its meter, or left a step unbegun, stays open: it can be finished or undone.
    if (result.failed) return;
    if (auto const kept = journal_.append(end_line(job_.run, now(), result.whole)); !kept)
        result.failed = quantity::to_sentence(kept.error());
}

}  // namespace phasewright::program
