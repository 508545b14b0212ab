#include "app/commands/meter_rounds.hpp"

#include <chrono>
#include <ctime>
#include <mutex>
#include <thread>

#include <fmt/core.h>

#include "app/commands/plan_lines.hpp"
#include "app/commands/profile_shelf.hpp"
#include "bus/codec/fault.hpp"

namespace phasewright::commands {

namespace {

using diagnosis::Severity;

void find_profiles(plan::Site const& site, std::filesystem::path const& folder,
                   std::vector<MeterRecord>& records) {
    ProfileShelf shelf(folder);
    for (std::size_t k = 0; k < site.points.size(); ++k) {
        if (site.points[k].meter_profile == "sunspec") continue;
        auto profile = shelf.take(site.points[k].meter_profile);
        if (profile)
            records[k].profile = *profile;
        else
            records[k].findings.push_back({Severity::mend, quantity::to_sentence(profile.error())});
    }
}

void read_once(plan::MeteringPoint const& point, port::Line& line, MeterRecord& record) {
    auto const unit = static_cast<std::uint8_t>(point.address.unit);
    auto reading = record.profile ? profile::read_meter(line, unit, *record.profile, point.service)
                                  : profile::find_sunspec(line, unit, point.service);
    if (reading) {
        record.readings.push_back({std::move(*reading), iso_now()});
        record.last_read_s = steady_now_s();
        return;
    }
    auto const said = codec::to_finding(reading.error());
    if (record.readings.empty())
        record.findings.push_back({Severity::mend, said});
    else
        record.findings.push_back({Severity::mind, "one of several readings failed: " + said});
}

// The points of each line, in the plan's order.
std::map<port::Line*, std::vector<std::size_t>> by_line(plan::Site const& site, PlanLines& lines) {
    std::map<port::Line*, std::vector<std::size_t>> groups;
    for (std::size_t k = 0; k < site.points.size(); ++k) groups[&lines.to(site.points[k].address)].push_back(k);
    return groups;
}

}  // namespace

double steady_now_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

std::string iso_now() {
    auto const now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
    std::tm local{};
    localtime_r(&now, &local);
    long const minutes = local.tm_gmtoff / 60;
    long const size = minutes < 0 ? -minutes : minutes;
    return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}{}{:02}:{:02}", local.tm_year + 1900,
                       local.tm_mon + 1, local.tm_mday, local.tm_hour, local.tm_min, local.tm_sec,
                       minutes < 0 ? '-' : '+', size / 60, size % 60);
}

std::vector<MeterRecord> read_all_meters(plan::Site const& site, RoundsSettings const& settings,
                                         RoundsProgress const& progress) {
    std::vector<MeterRecord> records(site.points.size());
    find_profiles(site, settings.profiles_folder, records);
    PlanLines lines(site);
    auto const groups = by_line(site, lines);
    auto const rounds = static_cast<std::size_t>(std::max(settings.rounds, 1));
    auto const steps = rounds * site.points.size();
    std::mutex telling;
    std::size_t told = 0;
    auto const read_group = [&](port::Line& line, std::vector<std::size_t> const& points) {
        for (auto const k : points) {
            {
                std::lock_guard const alone(telling);
                progress(told++, steps, site.points[k]);
            }
            bool const given_up = !records[k].findings.empty() && records[k].readings.empty();
            if (!given_up) read_once(site.points[k], line, records[k]);
        }
    };
    for (std::size_t round = 0; round < rounds; ++round) {
        double const began = steady_now_s();
        {
            std::vector<std::jthread> readers;  // a line is used by one thread only; they end with this block
            for (auto const& [line, points] : groups)
                readers.emplace_back([&read_group, line, &points] { read_group(*line, points); });
        }
        double const rest = settings.seconds_between - (steady_now_s() - began);
        if (round + 1 < rounds && rest > 0.0)
            std::this_thread::sleep_for(std::chrono::duration<double>(rest));
    }
    return records;
}

}  // namespace phasewright::commands
