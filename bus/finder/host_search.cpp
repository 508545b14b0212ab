#include "bus/finder/host_search.hpp"

#include <algorithm>
#include <thread>

#include <fmt/format.h>

#include "bus/port/tcp_line.hpp"

namespace phasewright::finder {

namespace {
using codec::ExceptionCode;
using codec::Fault;
using codec::FaultKind;

constexpr std::size_t enough_to_doubt = 3;               // units in a row that answered, none silent
constexpr std::uint8_t unlikely_units[] = {247, 246, 245};  // that all of these exist too is not believed

bool is_over(Fault const& fault) {
    return fault.kind == FaultKind::cancelled || fault.kind == FaultKind::unreachable;
}

bool means_nobody(Fault const& fault) {
    if (fault.kind != FaultKind::refused) return false;
    auto const code = codec::exception_of(fault.exception.value_or(0));
    return code == ExceptionCode::gateway_path_unavailable || code == ExceptionCode::gateway_target_failed_to_respond;
}

ProbeOutcome outcome_of(std::expected<codec::Registers, Fault> const& answer) {
    if (answer) return {.came = Came::answer};
    if (means_nobody(answer.error())) return {.came = Came::nothing};
    switch (answer.error().kind) {
        case FaultKind::refused:
        case FaultKind::malformed: return {.came = Came::answer};
        case FaultKind::garbled: return {.came = Came::garbage};
        default: return {.came = Came::nothing};
    }
}

std::expected<codec::Registers, Fault> probe(port::Line& line, std::uint8_t unit) {
    return port::read_registers(line, unit, codec::Function::read_holding_registers, 0, 1);
}

// A device without a serial side that ignores the unit id answers for all of them.
std::expected<bool, Fault> answers_for_any_unit(port::Line& line, std::span<Hit const> hits,
                                                std::vector<std::uint8_t> const& planned) {
    auto const first = identify(line, hits.front().unit);
    if (!first) return std::unexpected(first.error());
    for (auto const unit : unlikely_units) {
        if (std::find(planned.begin(), planned.end(), unit) != planned.end()) return false;
        auto const answer = probe(line, unit);
        if (!answer && is_over(answer.error())) return std::unexpected(answer.error());
        if (outcome_of(answer).came != Came::answer) return false;
        auto const told = identify(line, unit);
        if (!told) return std::unexpected(told.error());
        if (!(*told == *first)) return false;
    }
    return true;
}

SearchSettings without_formats(SearchSettings settings) {
    settings.formats = {plan::SerialFormat{}};
    settings.timed = false;
    return settings;
}

void identify_all(port::Line& line, Found& found) {
    for (auto& device : found.devices) {
        auto const told = identify(line, device.unit);
        if (told) {
            device.identity = *told;
            device.asked_who = true;
        } else if (is_over(told.error())) {
            found.fault = told.error();
            return;
        } else {
            device.identity.notes.push_back(codec::to_finding(told.error()));
        }
    }
}
}  // namespace

LineMaker real_tcp_lines(int answer_timeout_ms) {
    return [answer_timeout_ms](HostPlace const& place) {
        return port::tcp_line({.host = place.host, .port = place.port, .answer_timeout_ms = answer_timeout_ms, .tries = 1});
    };
}

Found find_behind_gateway(port::Line& line, GatewaySearch const& search, Stop& stop, ProgressListener const& progress) {
    Found found{.place = line.place()};
    Stop::Hold const hold(stop, [&] { line.cancel(); });
    SearchPlan plan(without_formats(search.search));
    bool path_missing = false;
    bool doubted = false;
    while (auto const next = plan.next()) {
        if (progress)
            progress({.place = found.place, .doing = "asking", .format = {}, .unit = next->unit, .asked = plan.asked(),
                      .left = plan.left(), .found = plan.hits().size(), .left_s = plan.time_left_s()});
        double const began_s = line.now_s();
        auto const answer = probe(line, next->unit);
        if (!answer && is_over(answer.error())) {
            found.fault = answer.error();
            break;
        }
        auto outcome = outcome_of(answer);
        path_missing = path_missing || (!answer && answer.error().exception == 0x0A);
        outcome.took_s = line.now_s() - began_s;
        found.took_s += outcome.took_s;
        plan.heard(outcome);
        if (!doubted && plan.hits().size() == enough_to_doubt && plan.asked() == enough_to_doubt) {
            doubted = true;
            auto const any = answers_for_any_unit(line, plan.hits(), search.search.planned);
            if (!any) {
                found.fault = any.error();
                break;
            }
            found.any_unit = *any;
            if (found.any_unit) break;
        }
    }
    found.asked = plan.asked();
    for (auto const& hit : plan.hits()) {
        found.devices.push_back({.unit = hit.unit, .format = std::nullopt, .answered_s = hit.took_s, .identity = {}});
        if (found.any_unit) break;
    }
    for (auto const& one : plan.doubtful()) found.doubtful.push_back({.unit = one.unit, .format = std::nullopt});
    std::stable_sort(found.devices.begin(), found.devices.end(), [](auto const& a, auto const& b) { return a.unit < b.unit; });
    if (found.any_unit)
        found.notes.emplace_back("it answers whatever unit is asked, always as the same device: not a gateway, or one "
                                 "with a single device behind it");
    if (path_missing)
        found.notes.emplace_back("the gateway said for some units that it has no path to them (exception 0A): its own "
                                 "routes may leave units out that are there");
    if (!found.fault) identify_all(line, found);
    return found;
}

namespace {
Found find_at(HostPlace const& place, HostSearch const& search, LineMaker const& line_to, Stop& stop) {
    Found found{.place = to_text(place)};
    auto const line = line_to(place);
    Stop::Hold const hold(stop, [&] { line->cancel(); });
    std::optional<Fault> last;
    for (auto const unit : search.units) {
        double const began_s = line->now_s();
        auto const answer = probe(*line, unit);
        double const took_s = line->now_s() - began_s;
        ++found.asked;
        found.took_s += took_s;
        if (outcome_of(answer).came == Came::answer) {
            found.devices.push_back({.unit = unit, .format = std::nullopt, .answered_s = took_s, .identity = {}});
            break;
        }
        last = answer.error();
        if (is_over(*last)) break;
    }
    if (found.devices.empty()) {
        found.fault = last;
    } else {
        identify_all(*line, found);
    }
    return found;
}
}  // namespace

std::vector<Found> find_hosts(HostSearch const& search, LineMaker const& line_to, Stop& stop,
                              ProgressListener const& progress) {
    std::vector<Found> all(search.places.size());
    std::atomic<std::size_t> next = 0;
    std::mutex telling;
    std::size_t done = 0, answered = 0;
    double spent_s = 0.0;
    auto const threads = std::clamp<std::size_t>(search.at_a_time, 1, std::max<std::size_t>(1, search.places.size()));
    auto const work = [&] {
        for (auto at = next++; at < search.places.size(); at = next++) {
            if (stop.requested()) {
                all[at].place = to_text(search.places[at]);
                all[at].fault = Fault{.kind = FaultKind::cancelled, .detail = {}, .exception = std::nullopt,
                                      .where = all[at].place};
                continue;
            }
            all[at] = find_at(search.places[at], search, line_to, stop);
            std::scoped_lock const lock(telling);
            ++done;
            answered += all[at].devices.empty() ? 0U : 1U;
            spent_s += all[at].took_s;
            auto const left = search.places.size() - done;
            if (progress)
                progress({.place = all[at].place, .doing = "asking", .format = {}, .unit = 0, .asked = done, .left = left,
                          .found = answered,
                          .left_s = spent_s / static_cast<double>(done) * static_cast<double>(left) /
                                    static_cast<double>(threads)});
        }
    };
    std::vector<std::thread> pool;
    for (std::size_t i = 1; i < threads; ++i) pool.emplace_back(work);
    work();
    for (auto& thread : pool) thread.join();
    return all;
}

}  // namespace phasewright::finder
