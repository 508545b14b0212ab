#include "bus/twin/virtual_meter.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <utility>

#include "bus/profile/sunspec.hpp"
#include "bus/profile/sunspec_layout.hpp"
#include "bus/twin/dice.hpp"
#include "bus/twin/meter.hpp"

namespace phasewright::twin {

namespace {
using codec::ExceptionCode;
using profile::SettingName;

// The loads as the file says them, without their straying and without noise.
WiredPoint calm(WiredPoint wired) {
    wired.wander = {0.0, 0.0};
    wired.noise = {0.0, 0.0};
    return wired;
}

// Meters' clocks drift: up to two minutes from the machine's, each by its own.
double clock_of(std::uint64_t seed, std::string_view name) {
    auto const now = std::chrono::system_clock::now().time_since_epoch();
    Dice dice(seed_for(seed ^ 0x3C3C3C3CULL, name, 0));
    return std::floor(std::chrono::duration<double>(now).count()) + 240.0 * dice.uniform() - 120.0;
}

double ratio_or_one(std::optional<double> primary, std::optional<double> secondary) {
    return primary && secondary && *primary > 0.0 && *secondary > 0.0 ? *primary / *secondary : 1.0;
}

bool differs(std::optional<quantity::TransformerRatio> const& one,
             std::optional<quantity::TransformerRatio> const& other) {
    if (!one || !other) return one.has_value() != other.has_value();
    return one->primary != other->primary || one->secondary != other->secondary;
}

// A meter whose voltage transformers' ratio is programmed otherwise multiplies every volt, watt and var by
// it.
void multiply(readings::Column& values, double factor) {
    for (auto& value : values)
        if (value) *value *= factor;
}
readings::Snapshot with_volts_times(readings::Snapshot shown, double factor) {
    if (factor == 1.0) return shown;
    for (auto* column : {&shown.v, &shown.v_ll, &shown.p, &shown.q, &shown.s}) multiply(*column, factor);
    for (auto* total : {&shown.p_total, &shown.q_total, &shown.s_total})
        if (*total) **total *= factor;
    return shown;
}
}  // namespace

VirtualMeter::VirtualMeter(plan::MeteringPoint const& point, Supply supply, WiredPoint wired, Face face,
                           std::uint64_t seed, MeterTruth truth)
    : model_(plan::model_of(point.service, point.model_options)),
      supply_(std::move(supply)),
      wired_(std::move(wired)),
      face_(std::move(face)),
      shipped_(face_.profile),
      planned_unit_(face_.unit),
      wired_ratio_(face_.programmed),
      seed_(seed),
      truth_(std::move(truth)),
      counters_(seed, point.id, truth_.counters.import_wh),
      clock_at_zero_(clock_of(seed, point.id)),
      identity_(identity_of(face_)) {
    lay_out();
    if (truth_.unit) face_.unit = *truth_.unit;
    if (truth_.programmed) {
        face_.programmed = *truth_.programmed;
        for (auto& ct : wired_.cts) ct.programmed = *truth_.programmed;
    }
    face_.others[SettingName::address] = face_.unit;
    take_format();
    vt_at_start_ = vt_factor();
    count_on(0.0);
}

void VirtualMeter::lay_out() {
    if (shipped_) face_.profile = twisted(*shipped_, truth_.twist);
    unlocked_.clear();
}

void VirtualMeter::take_format() {
    if (!truth_.format) return;
    face_.others[SettingName::bit_rate] = truth_.format->bit_rate;
    face_.others[SettingName::parity] = static_cast<double>(truth_.format->parity);
    face_.others[SettingName::stop_bits] = truth_.format->stop_bits;
}

void VirtualMeter::program(quantity::TransformerRatio ratio, double time_s) {
    face_.programmed = ratio;
    for (auto& ct : wired_.cts) ct.programmed = ratio;
    count_on(time_s);
}

// By what its registers of both settings hold; 1 where its profile has none.
double VirtualMeter::vt_factor() const {
    if (!face_.profile) return 1.0;
    auto const* primary = profile::find_setting(*face_.profile, SettingName::vt_primary);
    auto const* secondary = profile::find_setting(*face_.profile, SettingName::vt_secondary);
    if (primary == nullptr || secondary == nullptr) return 1.0;
    auto const image = image_of(face_, {});
    return ratio_or_one(profile::setting_in(*primary, image), profile::setting_in(*secondary, image));
}

readings::Snapshot VirtualMeter::shown(WiredPoint const& wired, double time_s) const {
    return with_volts_times(shown_at(model_, supply_, wired, seed_, time_s), vt_factor() / vt_at_start_);
}

void VirtualMeter::count_on(double time_s) { counters_.run_on(shown(calm(wired_), 0.0), time_s); }

void VirtualMeter::rewire(WiredPoint wired, double time_s) {
    for (std::size_t k = 0; k < wired.cts.size() && k < wired_.cts.size(); ++k)
        wired.cts[k].programmed = wired_.cts[k].programmed;  // what was programmed stays so
    wired_ = std::move(wired);
    held_since_s_.reset();
    count_on(time_s);
}

void VirtualMeter::set_anew(MeterTruth truth, double time_s) {
    auto const before = std::exchange(truth_, std::move(truth));
    if (truth_.unit != before.unit) {
        face_.unit = truth_.unit.value_or(planned_unit_);
        face_.others[SettingName::address] = face_.unit;
    }
    if (truth_.format != before.format) take_format();
    if (truth_.twist != before.twist) lay_out();
    if (differs(truth_.programmed, before.programmed))
        program(truth_.programmed.value_or(wired_ratio_), time_s);
    if (truth_.counters != before.counters) counter_reads_ = 0;
    held_since_s_.reset();
}

int VirtualMeter::unit() const { return face_.unit; }

plan::SerialFormat VirtualMeter::format(plan::SerialFormat planned) const {
    auto format = truth_.format.value_or(planned);
    auto const held = [&](SettingName name) {
        auto const found = face_.others.find(name);
        return found == face_.others.end() ? std::optional<double>{} : found->second;
    };
    if (auto const rate = held(SettingName::bit_rate)) format.bit_rate = static_cast<int>(*rate);
    if (auto const parity = held(SettingName::parity)) {
        format.parity = static_cast<plan::Parity>(static_cast<int>(*parity));
        format.stop_bits = format.parity == plan::Parity::none ? 2 : 1;
    }
    if (auto const bits = held(SettingName::stop_bits)) format.stop_bits = static_cast<int>(*bits);
    return format;
}

void VirtualMeter::put_energies(profile::RegisterImage& image, std::optional<double> time_s) const {
    auto const count = [&](profile::EnergyHabit const& habit, int phase) {
        return time_s ? counters_.value(habit, phase, *time_s) : 0.0;
    };
    if (face_.profile) {
        for (auto const& energy : face_.profile->energies)
            for (std::size_t k = 0; k < energy.fields.size(); ++k)
                profile::put_energy(image, energy, k,
                                    count(energy.habit, energy.per_phase ? static_cast<int>(k) + 1 : 0));
        return;
    }
    profile::EnergyHabit const imported{};
    profile::EnergyHabit const exported{.name = {}, .kind = profile::EnergyKind::export_};
    std::vector<profile::SunspecEnergy> const energies{{"TotWhExp", count(exported, 0)},
                                                       {"TotWhImp", count(imported, 0)}};
    profile::put_sunspec_energies(image, sunspec_model_of(face_, wired_.cts.size()), energies);
}

profile::RegisterImage const& VirtualMeter::registers_at(double time_s) {
    double const held_since_s = std::floor(time_s / refresh_s) * refresh_s;
    if (held_since_s_ != held_since_s) {
        face_.others[SettingName::clock] = std::floor(clock_at_zero_ + held_since_s);
        held_ = image_of(face_, shown(wired_, held_since_s));
        if (face_.profile) put_not_measured(held_, *face_.profile, truth_.twist);
        put_energies(held_, held_since_s);
        held_since_s_ = held_since_s;
    }
    return held_;
}

codec::Bytes VirtualMeter::answer(codec::BytesView request, double time_s) {
    std::uint8_t const function = request.empty() ? std::uint8_t{0} : codec::u8_at(request, 0);
    bool const writes = function == static_cast<std::uint8_t>(codec::Function::write_single_register) ||
                        function == static_cast<std::uint8_t>(codec::Function::write_multiple_registers);
    return writes && face_.profile && truth_.writable ? write(request, time_s) : read(request, time_s);
}

codec::Bytes VirtualMeter::read(codec::BytesView request, double time_s) {
    auto const& image = registers_at(time_s);
    auto said = answer_pdu(request, image, identity_);
    if (truth_.counters.zero_at_read <= counter_reads_) return said;
    auto at_zero = image;
    put_energies(at_zero, std::nullopt);
    auto zero = answer_pdu(request, at_zero, identity_);
    if (zero == said) return said;  // no counter is in it
    return ++counter_reads_ == truth_.counters.zero_at_read ? zero : said;
}

codec::Bytes VirtualMeter::write(codec::BytesView request, double time_s) {
    auto const function = codec::u8_at(request, 0);
    auto const question = codec::parse_question(request);
    if (!question) return codec::exception_pdu(function, question.error());
    if (auto const* one = std::get_if<codec::WriteRegister>(&*question)) {
        auto const refused = take(one->address, {one->value}, time_s);
        return refused ? codec::exception_pdu(function, *refused) : codec::written_pdu(*one);
    }
    auto const* many = std::get_if<codec::WriteRegisters>(&*question);
    if (many == nullptr) return codec::exception_pdu(function, ExceptionCode::illegal_function);
    auto const refused = take(many->address, many->values, time_s);
    return refused ? codec::exception_pdu(function, *refused) : codec::written_pdu(*many);
}

std::optional<ExceptionCode> VirtualMeter::take(std::uint16_t address, codec::Registers const& values,
                                                double time_s) {
    auto image = registers_at(time_s);
    profile::put_registers(image, codec::Function::write_multiple_registers, address, values);
    auto const last = static_cast<unsigned>(address) + values.size();
    auto const inside = [&](std::uint16_t at) { return at >= address && at < last; };
    bool known = false;
    std::vector<std::pair<profile::Setting const*, double>> changed;
    for (auto const& setting : face_.profile->settings) {
        for (auto const* list : {&setting.before, &setting.after})
            for (auto const& one : *list)
                if (inside(one.address)) {
                    unlocked_[one.address] = values[one.address - address];
                    known = true;
                }
        auto const runs = profile::setting_registers(setting);
        bool const touched = std::ranges::any_of(runs, [&](auto const& run) {
            for (int k = 0; k < run.count; ++k)
                if (inside(static_cast<std::uint16_t>(run.first + k))) return true;
            return false;
        });
        if (!touched) continue;
        if (!setting.write) return ExceptionCode::illegal_data_address;
        bool const locked = std::ranges::any_of(setting.before, [&](profile::RegisterWrite const& key) {
            auto const found = unlocked_.find(key.address);
            return found == unlocked_.end() || found->second != key.value;
        });
        if (locked) return ExceptionCode::illegal_data_value;
        auto const value = profile::setting_in(setting, image);
        if (!value || profile::not_allowed(setting, *value)) return ExceptionCode::illegal_data_value;
        changed.emplace_back(&setting, *value);
    }
    if (!known && changed.empty()) return ExceptionCode::illegal_data_address;
    for (auto const& [setting, value] : changed) set(*setting, value, time_s);
    return std::nullopt;
}

void VirtualMeter::set(profile::Setting const& setting, double value, double time_s) {
    double const before = face_.programmed.factor() * vt_factor();
    face_.others[setting.name] = value;
    switch (setting.name) {
        case SettingName::ct_primary: face_.programmed.primary = value; break;
        case SettingName::ct_secondary: face_.programmed.secondary = value; break;
        case SettingName::service: face_.service = static_cast<plan::Service>(static_cast<int>(value)); break;
        case SettingName::address: face_.unit = static_cast<int>(value); break;
        case SettingName::clock: clock_at_zero_ = value - time_s; break;
        default: break;
    }
    if (profile::is_ratio(setting.name)) {
        double const factor = face_.programmed.factor() * vt_factor() / before;
        if (setting.rescales_energy == profile::Rescales::yes) counters_.rescale(factor, time_s);
        program(face_.programmed, time_s);
    }
    held_since_s_.reset();
}

}  // namespace phasewright::twin
