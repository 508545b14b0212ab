#include "bus/decoder/profile_changes.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

#include <fmt/format.h>

#include "bus/profile/raw_number.hpp"
#include "core/quantity/text.hpp"

namespace phasewright::decoder {

namespace {

using profile::Field;
using profile::Measure;
using profile::Order;
using profile::Profile;

// How usual each slip is among profiles that somebody wrote from a maker's table. Common practice, no source.
constexpr double as_it_is = 0.7;
constexpr double one_off = 0.04;
constexpr double words_exchanged = 0.05;
constexpr double bytes_exchanged = 0.01;
constexpr double other_function = 0.02;
constexpr double ten_times = 0.006;
constexpr double further = 0.002;  // a hundred or a thousand times
constexpr double thousand_of_energy = 0.015;
constexpr double other_sign = 0.008;
constexpr double unlisted = 0.03;

void each_field(Profile& profile, std::function<void(Field&)> const& change) {
    for (auto& [measure, fields] : profile.measurements)
        for (auto& field : fields) change(field);
    for (auto& energy : profile.energies)
        for (auto& field : energy.fields) change(field);
}

Order other(Order order) { return order == Order::high_first ? Order::low_first : Order::high_first; }

class Changes {
public:
    Changes(Profile const& profile, std::span<Dump const> dumps) : profile_(profile), dumps_(dumps) {}

    std::vector<ChangedProfile> all() {
        add({ChangeKind::none, "as it is", {}, std::log(as_it_is)}, [](Profile&) { return true; });
        orders_and_places();
        scales();
        signs();
        energy_units();
        nothings();
        return std::move(made_);
    }

private:
    // `change` says whether it changed anything.
    void add(ProfileChange change, std::function<bool(Profile&)> const& make) {
        Profile changed = profile_;
        if (make(changed)) made_.push_back({std::move(change), std::move(changed)});
    }

    void orders_and_places() {
        for (int const by : {-1, 1}) {
            add({ChangeKind::base, by < 0 ? "every address one lower" : "every address one higher",
                 fmt::format("base: {} than it is", by < 0 ? "one less" : "one more"), std::log(one_off)},
                [&](Profile& profile) {
                    bool inside = true;
                    each_field(profile, [&](Field& field) {
                        int const moved = int{field.address} + by;
                        inside = inside && moved >= 0 && moved <= 0xFFFF;
                        field.address = static_cast<std::uint16_t>(moved);
                        if (field.scale_register)
                            field.scale_register->address = static_cast<std::uint16_t>(field.scale_register->address + by);
                    });
                    return inside;
                });
        }
        add({ChangeKind::word_order, "the words of long numbers the other way round",
             R"(word_order: the other of "high-first" and "low-first")", std::log(words_exchanged)},
            [](Profile& profile) {
                bool any = false;
                each_field(profile, [&](Field& field) {
                    any = any || profile::registers_of(field.type) > 1;
                    field.words = other(field.words);
                });
                return any;
            });
        add({ChangeKind::byte_order, "the bytes of each register the other way round",
             R"(byte_order: the other of "high-first" and "low-first")", std::log(bytes_exchanged)},
            [](Profile& profile) {
                each_field(profile, [](Field& field) { field.bytes = other(field.bytes); });
                return true;
            });
        add({ChangeKind::function, "read with the other function",
             "function: the other of 3 (holding) and 4 (input)", std::log(other_function)},
            [](Profile& profile) {
                each_field(profile, [](Field& field) {
                    field.function = field.function == codec::Function::read_input_registers
                                         ? codec::Function::read_holding_registers
                                         : codec::Function::read_input_registers;
                });
                return true;
            });
    }

    void scales() {
        struct Group {
            Family family;
            std::string_view name;
        };
        for (auto const& [family, name] : {Group{Family::voltage, "voltages"}, Group{Family::current, "currents"},
                                           Group{Family::power, "powers"}, Group{Family::frequency, "the frequency"},
                                           Group{Family::factor, "power factors"}})
            scaled(std::string(name), [family](Quantity quantity) { return family_of(quantity) == family; }, 1.0);
        // A meter's currents and powers may both be taken for ten times what they are.
        scaled("currents and powers", [](Quantity quantity) {
            return family_of(quantity) == Family::current || family_of(quantity) == Family::power;
        }, 1.0);
        for (auto const& [measure, fields] : profile_.measurements) {
            auto const quantity = quantity_of(measure);
            if (!quantity || family_alone(*quantity)) continue;
            scaled(std::string(name_of(*quantity)), [&](Quantity one) { return one == *quantity; }, 0.3);
        }
    }
    [[nodiscard]] bool family_alone(Quantity quantity) const {
        return std::ranges::none_of(profile_.measurements, [&](auto const& entry) {
            auto const one = quantity_of(entry.first);
            return one && *one != quantity && family_of(*one) == family_of(quantity);
        });
    }
    void scaled(std::string const& name, std::function<bool(Quantity)> const& chosen, double share) {
        for (int const by : {-3, -2, -1, 1, 2, 3}) {
            double const prior = share * (std::abs(by) == 1 ? ten_times : further);
            auto const factor = quantity::shortest(std::pow(10.0, by));
            add({ChangeKind::scale, fmt::format("{} times {}", name, factor),
                 fmt::format("scale of {}: times {}", name, factor), std::log(prior)},
                [&](Profile& profile) {
                    bool any = false;
                    for (auto& [measure, fields] : profile.measurements) {
                        auto const quantity = quantity_of(measure);
                        if (!quantity || !chosen(*quantity)) continue;
                        any = true;
                        for (auto& field : fields) field.scale *= std::pow(10.0, by);
                    }
                    return any;
                });
        }
    }

    void signs() {
        turned("active power", {Measure::p, Measure::p_total});
        turned("reactive power", {Measure::q, Measure::q_total});
    }
    void turned(std::string_view name, std::vector<Measure> const& both) {
        add({ChangeKind::sign, fmt::format("{} counted the other way", name),
             fmt::format("sign of {}: the other word", name), std::log(other_sign)},
            [&](Profile& profile) {
                bool any = false;
                for (auto const measure : both) {
                    auto const found = profile.measurements.find(measure);
                    if (found == profile.measurements.end()) continue;
                    any = true;
                    for (auto& field : found->second) field.reversed = !field.reversed;
                }
                return any;
            });
    }

    void energy_units() {
        for (int const by : {-3, 3}) {
            add({ChangeKind::energy_unit, by > 0 ? "energies in thousands of what is said" : "energies in thousandths of what is said",
                 by > 0 ? "unit of the energies: kWh for Wh" : "unit of the energies: Wh for kWh", std::log(thousand_of_energy)},
                [&](Profile& profile) {
                    for (auto& energy : profile.energies)
                        for (auto& field : energy.fields) field.unit_factor *= std::pow(10.0, by);
                    return !profile.energies.empty();
                });
        }
    }

    // All bits set, or an end of the signed range, where a field holds exactly that and does not list it.
    void nothings() {
        struct Pattern {
            std::string_view word;
            std::function<std::uint64_t(unsigned)> of_bits;
        };
        for (auto const& [word, of_bits] :
             {Pattern{"0xFFFF (all bits set)", [](unsigned bits) { return ~std::uint64_t{0} >> (64U - bits); }},
              Pattern{"0x8000 (only the highest bit)", [](unsigned bits) { return std::uint64_t{1} << (bits - 1U); }},
              Pattern{"0x7FFF (all bits but the highest)", [](unsigned bits) { return (~std::uint64_t{0} >> (64U - bits)) >> 1U; }}}) {
            add({ChangeKind::not_available, fmt::format("{} means that there is no value", word),
                 fmt::format("not_available: {}, in the width of the field", word), std::log(unlisted)},
                [&](Profile& profile) {
                    bool any = false;
                    each_field(profile, [&](Field& field) {
                        if (profile::is_floating(field.type)) return;
                        auto const raw = of_bits(static_cast<unsigned>(16 * profile::registers_of(field.type)));
                        if (std::ranges::find(field.not_available, raw) != field.not_available.end()) return;
                        field.not_available.push_back(raw);
                        any = any || std::ranges::any_of(dumps_, [&](Dump const& dump) {
                                  return profile::raw_of(field, dump.image) == raw;
                              });
                    });
                    return any;
                });
        }
    }

    Profile const& profile_;
    std::span<Dump const> dumps_;
    std::vector<ChangedProfile> made_;
};

}  // namespace

std::vector<ChangedProfile> changes_of(Profile const& profile, std::span<Dump const> dumps) {
    return Changes(profile, dumps).all();
}

}  // namespace phasewright::decoder
