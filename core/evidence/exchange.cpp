#include "core/evidence/exchange.hpp"

#include <algorithm>
#include <map>

#include "core/quantity/text.hpp"
#include "core/readings/check.hpp"

namespace phasewright::evidence {

namespace {
using quantity::Fault;

bool is_on(SealState state) { return state == SealState::fitted || state == SealState::found_whole; }
}  // namespace

std::vector<std::string> seal_findings(std::vector<Seal> const& history) {
    std::vector<std::string> findings;
    std::map<std::string, std::string> on;       // number at a place
    std::map<std::string, std::string> ever_at;  // place of a number
    for (auto const& seal : history) {
        auto const at = on.find(seal.place);
        auto const known = at == on.end() ? std::string{} : at->second;
        if (!seal.number.empty()) {
            auto const [first, is_new] = ever_at.emplace(seal.number, seal.place);
            if (!is_new && first->second != seal.place)
                findings.push_back("seal " + seal.number + " stands at " + first->second + " and at " +
                                   seal.place);
        }
        switch (seal.state) {
            case SealState::fitted:
                if (!known.empty())
                    findings.push_back("seal " + seal.number + " was fitted at " + seal.place +
                                       " while nobody took off " + known);
                break;
            case SealState::found_whole:
                if (!known.empty() && known != seal.number)
                    findings.push_back("at " + seal.place + " seal " + seal.number + " was found where " +
                                       known + " was fitted");
                break;
            case SealState::found_broken:
                findings.push_back("the seal at " + seal.place + " was found broken");
                break;
            case SealState::found_missing:
                findings.push_back("the seal at " + seal.place + " was found missing");
                break;
            case SealState::removed:
                if (!known.empty() && known != seal.number)
                    findings.push_back("at " + seal.place + " seal " + seal.number + " was taken off where " +
                                       known + " was fitted");
                break;
        }
        if (is_on(seal.state))
            on[seal.place] = seal.number;
        else
            on.erase(seal.place);
    }
    return findings;
}

std::vector<Seal> seals_now(std::vector<Seal> const& history) {
    std::map<std::string, Seal> on;
    for (auto const& seal : history) {
        if (is_on(seal.state))
            on[seal.place] = seal;
        else
            on.erase(seal.place);
    }
    std::vector<Seal> all;
    for (auto const& [place, seal] : on) all.push_back(seal);
    return all;
}

std::expected<ExchangeCheck, Fault> exchange_checked(MeterExchange const& exchange) {
    auto const out = readings::seconds_of(exchange.removed.time);
    auto const in = readings::seconds_of(exchange.fitted.time);
    if (!out || !in)
        return std::unexpected(Fault{"the time of a reading at the exchange is not known", "time",
                                     exchange.removed.time + " and " + exchange.fitted.time,
                                     "2026-11-25T10:20:00+01:00", "write down the time with the registers"});
    if (*in < *out)
        return std::unexpected(Fault{"the new meter was read before the old one came off", "time",
                                     exchange.fitted.time, "not before " + exchange.removed.time,
                                     "one of the two times is wrong"});
    ExchangeCheck check{.gap_s = *in - *out};
    if (exchange.gap_w) {
        check.gap_wh = *exchange.gap_w * check.gap_s / 3600.0;
        check.gap_wh_u =
            exchange.gap_w_u ? std::optional{*exchange.gap_w_u * check.gap_s / 3600.0} : std::nullopt;
    } else if (check.gap_s > 0.0) {
        check.missing.emplace_back("the mean power while no meter was in place");
    }
    for (auto const& [meter, name] :
         {std::pair{&exchange.removed, "the old meter"}, std::pair{&exchange.fitted, "the new meter"}}) {
        if (meter->serial.empty()) check.missing.push_back(std::string{"the serial of "} + name);
        if (!meter->import_wh) check.missing.push_back(std::string{"the import register of "} + name);
        if (!meter->last_place_wh)
            check.missing.push_back(std::string{"the last place of the registers of "} + name);
    }
    if (!exchange.removed.serial.empty() && exchange.removed.serial == exchange.fitted.serial)
        check.findings.emplace_back("both meters bear the serial " + exchange.fitted.serial);
    if (std::ranges::none_of(exchange.seals,
                             [](Seal const& seal) { return seal.state == SealState::fitted; }))
        check.missing.emplace_back("the number of a seal that was fitted");
    for (auto const& seal : exchange.seals)
        if (seal.number.empty() && seal.state != SealState::found_missing)
            check.missing.push_back("the number of the seal at " + seal.place);
    for (auto& finding : seal_findings(exchange.seals)) check.findings.push_back(std::move(finding));
    return check;
}

std::expected<BridgedEnergy, Fault> bridged(MeterExchange const& exchange, double old_begin_wh,
                                            double new_end_wh) {
    auto const check = exchange_checked(exchange);
    if (!check) return std::unexpected(check.error());
    if (!exchange.removed.import_wh || !exchange.fitted.import_wh)
        return std::unexpected(Fault{"a register of the exchange was not written down", "import_wh", "",
                                     "both meters'", "the old meter can still be read where it lies"});
    BridgedEnergy energy{.old_wh = *exchange.removed.import_wh - old_begin_wh,
                         .new_wh = new_end_wh - *exchange.fitted.import_wh,
                         .gap_wh = check->gap_wh,
                         .gap_wh_u = check->gap_wh_u};
    if (energy.old_wh < 0.0 || energy.new_wh < 0.0)
        return std::unexpected(Fault{"a register went back", "import_wh",
                                     quantity::shortest(std::min(energy.old_wh, energy.new_wh)),
                                     "not below 0", "a wrap, or the readings of two meters exchanged"});
    energy.gap_left_out = check->gap_s > 0.0 && !energy.gap_wh;
    energy.total_wh = energy.old_wh + energy.new_wh + energy.gap_wh.value_or(0.0);
    return energy;
}

}  // namespace phasewright::evidence
