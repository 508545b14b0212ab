// For tests: meters that nobody has described. A seeded generator draws a load, a register map with habits of its own
// and registers that mean nothing in between; what each field holds is known, so that the decoder can be marked.
#pragma once
#include <cmath>
#include <random>
#include <vector>

#include "bus/decoder/bench.hpp"
#include "bus/profile/encode.hpp"
#include "bus/profile/raw_number.hpp"
#include "bus/profile/sunspec.hpp"
#include "bus/profile/sunspec_layout.hpp"

namespace phasewright::decoder {

class Dice {
public:
    explicit Dice(unsigned seed) : engine_(seed) {}
    unsigned below(unsigned limit) { return static_cast<unsigned>(engine_() % limit); }
    double between(double least, double most) { return least + (most - least) * static_cast<double>(engine_() % 1000003U) / 1000003.0; }
    bool one_in(unsigned count) { return below(count) == 0; }
    double sized(double least, double most) { return least * std::pow(most / least, between(0.0, 1.0)); }

private:
    std::mt19937 engine_;  // the same numbers on every machine
};

struct Truth {
    Quantity quantity = Quantity::v;
    std::vector<profile::Field> fields;
};
struct TestMeter {
    std::string kind;
    Expected expected;
    std::vector<Dump> dumps;
    std::vector<Truth> truths;
    double largest_a = 0.0;
};

struct Load {
    readings::Snapshot shown;
    double wh = 0.0, varh = 0.0;
};

// A load on a 230/400 V service, and the same some minutes on.
inline Load drawn_load(Dice& dice, plan::Nominal const& nominal) {
    Load load;
    double const level = dice.between(0.96, 1.04) * nominal.v_ln;
    double const size = dice.sized(2.0, 300.0);
    double const lag = std::acos(dice.between(0.72, 0.995)) * (dice.one_in(6) ? -1.0 : 1.0);
    auto& shown = load.shown;
    double const wave = dice.one_in(5) ? dice.between(1.002, 1.015) : 1.0;  // distortion: VI exceeds what P and Q make
    bool const one_reversed = dice.one_in(10);
    for (int phase = 0; phase < 3; ++phase) {
        double const volts = level * dice.between(0.99, 1.01);
        double const amperes = size * dice.between(0.7, 1.3);
        double const angle = lag + dice.between(-0.1, 0.1);
        double const turned = one_reversed && phase == 1 ? -1.0 : 1.0;
        double const noise = dice.between(0.9995, 1.0005);
        shown.v.push_back(volts);
        shown.i.push_back(amperes);
        shown.s.push_back(volts * amperes);
        shown.p.push_back(turned * noise * volts * amperes / wave * std::cos(angle));
        shown.q.push_back(turned * noise * volts * amperes / wave * std::sin(angle));
        shown.pf.push_back(*shown.p.back() / *shown.s.back());
    }
    double p = 0.0, q = 0.0, s = 0.0;
    for (std::size_t k = 0; k < 3; ++k) {
        double const a = *shown.v[k];
        double const b = *shown.v[(k + 1) % 3];
        shown.v_ll.push_back(std::sqrt(a * a + b * b + a * b) * dice.between(0.999, 1.001));
        p += *shown.p[k];
        q += *shown.q[k];
        s += *shown.s[k];
    }
    shown.p_total = p;
    shown.q_total = q;
    shown.s_total = dice.one_in(2) ? s : std::hypot(p, q);
    shown.pf_total = p / *shown.s_total;
    shown.hz = nominal.hz + dice.between(-0.04, 0.04);
    shown.i_n = size * dice.between(0.05, 0.5);
    load.wh = std::max(p, 10.0) * dice.sized(50.0, 40000.0);
    load.varh = std::abs(q) * dice.sized(50.0, 40000.0);
    return load;
}

// The same load a while later: everything moved a little, counters by what was drawn meanwhile.
inline Load later(Load const& before, double seconds, Dice& dice) {
    Load load = before;
    auto& shown = load.shown;
    double const volts = dice.between(0.995, 1.005);
    double const amperes = dice.between(0.9, 1.1);
    auto const scale = [](readings::Column& column, double factor) {
        for (auto& value : column) *value *= factor;
    };
    scale(shown.v, volts);
    scale(shown.v_ll, volts);
    scale(shown.i, amperes);
    for (auto* const column : {&shown.p, &shown.q, &shown.s}) scale(*column, volts * amperes);
    for (auto* const total : {&shown.p_total, &shown.q_total, &shown.s_total}) **total *= volts * amperes;
    *shown.hz += dice.between(-0.02, 0.02);
    *shown.i_n *= amperes;
    load.wh += std::max(0.0, 0.5 * (*before.shown.p_total + *shown.p_total)) * seconds / 3600.0;
    load.varh += std::abs(0.5 * (*before.shown.q_total + *shown.q_total)) * seconds / 3600.0;
    return load;
}

// A register map as some maker might have drawn it.
struct DrawnMap {
    profile::Profile map;
    std::vector<Truth> counters;
    std::uint16_t first = 0, last = 0;
};

class MapMaker {
public:
    MapMaker(Dice& dice, double largest_w) : dice_(dice), largest_w_(largest_w) {
        style_ = dice.below(4);
        words_ = dice.one_in(3) ? profile::Order::low_first : profile::Order::high_first;
        bytes_ = dice.one_in(20) ? profile::Order::low_first : profile::Order::high_first;
        function_ = dice.one_in(2) ? codec::Function::read_input_registers : codec::Function::read_holding_registers;
        at_ = dice.below(40000);
    }

    DrawnMap made() {
        DrawnMap drawn;
        drawn.first = static_cast<std::uint16_t>(at_);
        using profile::Measure;
        std::vector<Measure> columns{Measure::v, Measure::i, Measure::p};
        for (auto const measure : {Measure::v_ll, Measure::q, Measure::s, Measure::pf})
            if (!dice_.one_in(4)) columns.push_back(measure);
        for (auto const measure : {Measure::hz, Measure::p_total, Measure::q_total, Measure::s_total, Measure::pf_total})
            if (!dice_.one_in(4)) columns.push_back(measure);
        if (dice_.one_in(2)) columns.push_back(Measure::i_n);
        shuffle(columns);
        bool const blocks = dice_.one_in(4);
        if (blocks) put_blocks(drawn, columns);
        for (auto const measure : columns) {
            if (blocks && profile::is_per_element(measure) && measure != Measure::v_ll) continue;
            if (dice_.one_in(3)) at_ += dice_.below(8);
            std::size_t const count = profile::is_per_element(measure) ? 3 : 1;
            for (std::size_t k = 0; k < count; ++k) drawn.map.measurements[measure].push_back(field(*quantity_of(measure)));
        }
        for (auto const counter : {Quantity::energy_import, Quantity::reactive_energy}) {
            if (dice_.one_in(3)) at_ += dice_.below(8);
            drawn.counters.push_back({counter, {field(counter)}});
        }
        drawn.last = static_cast<std::uint16_t>(at_);
        drawn.map.services.push_back({.service = plan::Service::four_wire_wye, .elements = {0, 1, 2}, .lines = {0, 1, 2}});
        return drawn;
    }

private:
    void shuffle(std::vector<profile::Measure>& columns) {
        for (std::size_t k = columns.size(); k > 1; --k) std::swap(columns[k - 1], columns[dice_.below(static_cast<unsigned>(k))]);
    }
    void put_blocks(DrawnMap& drawn, std::vector<profile::Measure> const& columns) {
        for (int phase = 0; phase < 3; ++phase) {
            for (auto const measure : columns) {
                if (profile::is_per_element(measure) && measure != profile::Measure::v_ll)
                    drawn.map.measurements[measure].push_back(field(*quantity_of(measure)));
            }
        }
    }
    profile::Field field(Quantity quantity) {
        profile::Field made{.function = function_, .address = static_cast<std::uint16_t>(at_), .words = words_, .bytes = bytes_};
        made.type = type_of(quantity);
        made.scale = scale_of(quantity, made.type);
        at_ += static_cast<unsigned>(profile::registers_of(made.type));
        return made;
    }
    profile::ValueType type_of(Quantity quantity) const {
        using enum profile::ValueType;
        bool const powers = family_of(quantity) == Family::power || is_counter(quantity);
        if (style_ == 0) return is_counter(quantity) ? uint32 : family_of(quantity) == Family::power || family_of(quantity) == Family::factor ? int16 : uint16;
        if (style_ == 1) return is_counter(quantity) ? uint32 : int32;
        if (style_ == 2) return float32;
        return powers ? int32 : family_of(quantity) == Family::factor ? int16 : uint16;
    }
    double scale_of(Quantity quantity, profile::ValueType type) {
        if (profile::is_floating(type)) {
            bool const kilo = family_of(quantity) == Family::power || is_counter(quantity);
            if (kilo && kilo_ < 0) kilo_ = dice_.one_in(3) ? 1 : 0;
            return kilo && kilo_ > 0 ? 1000.0 : 1.0;
        }
        bool const narrow = type == profile::ValueType::int16 || type == profile::ValueType::uint16;
        auto const pick = [&](int& kept, std::vector<int> const& from) {
            if (kept == unset) kept = from[dice_.below(static_cast<unsigned>(from.size()))];
            return std::pow(10.0, kept);
        };
        switch (family_of(quantity)) {
            case Family::voltage: return pick(volts_, narrow ? std::vector{-1} : std::vector{-1, -2, -3});
            case Family::current: return pick(amperes_, narrow ? std::vector{-1, -2} : std::vector{-2, -3});
            case Family::power:
                if (narrow) return pick(watts_, largest_w_ * 4.0 > 32000.0 ? largest_w_ * 4.0 > 320000.0 ? std::vector{2} : std::vector{1, 2} : std::vector{0, 1});
                return pick(watts_, {0, -1, -2});
            case Family::factor: return pick(factors_, {-3, -4});
            case Family::frequency: return pick(hertz_, {-2, -1});
            case Family::energy: return pick(hours_, {0, 1, 2, 3});
        }
        return 1.0;
    }

    static constexpr int unset = 99;
    Dice& dice_;
    double largest_w_;
    unsigned style_ = 0;
    profile::Order words_{}, bytes_{};
    codec::Function function_{};
    unsigned at_ = 0;
    int kilo_ = -1, volts_ = unset, amperes_ = unset, watts_ = unset, factors_ = unset, hertz_ = unset, hours_ = unset;
};

// Registers that mean nothing to us, around and between.
inline void fill(profile::RegisterImage& image, codec::Function function, std::uint32_t first, std::uint32_t last, unsigned seed) {
    Dice dice(seed);
    for (std::uint32_t address = first > 10 ? first - 10 : 0; address <= last + 10 && address <= 0xFFFF; ++address) {
        unsigned const what = dice.below(6);
        std::uint16_t const word[] = {static_cast<std::uint16_t>(what < 3   ? 0
                                                                 : what == 3 ? dice.below(20)
                                                                 : what == 4 ? dice.below(1000)
                                                                             : dice.below(65536))};
        if (!profile::register_at(image, function, address))
            profile::put_registers(image, function, static_cast<std::uint16_t>(address), word);
    }
}

inline std::vector<Truth> truths_of(profile::Profile const& map) {
    std::vector<Truth> truths;
    for (auto const& [measure, fields] : map.measurements)
        if (auto const quantity = quantity_of(measure)) truths.push_back({*quantity, fields});
    return truths;
}

inline void put_counters(profile::RegisterImage& image, std::vector<Truth> const& counters, Load const& load) {
    for (auto const& counter : counters) {
        auto const& field = counter.fields.front();
        double const value = counter.quantity == Quantity::energy_import ? load.wh : load.varh;
        // A counter shows what is full, never what is nearly full.
        double const number = value / field.scale / field.unit_factor;
        profile::put_raw(image, field, profile::bits_of(field.type, profile::is_floating(field.type) ? number : std::floor(number)));
    }
}

inline std::vector<Truth> sunspec_truths(int model, std::uint16_t base, profile::SunspecScales const& scales) {
    struct Point { Quantity quantity; std::vector<char const*> names; int exponent; };
    bool const floating = profile::is_float_meter(model);
    std::vector<Point> const points{
        {Quantity::v, {"PhVphA", "PhVphB", "PhVphC"}, scales.v}, {Quantity::i, {"AphA", "AphB", "AphC"}, scales.a},
        {Quantity::p, {"WphA", "WphB", "WphC"}, scales.w},       {Quantity::q, {"VARphA", "VARphB", "VARphC"}, scales.var},
        {Quantity::s, {"VAphA", "VAphB", "VAphC"}, scales.va},   {Quantity::hz, {"Hz"}, scales.hz},
        {Quantity::p_total, {"W"}, scales.w},                    {Quantity::q_total, {"VAR"}, scales.var}};
    std::vector<Truth> truths;
    for (auto const& point : points) {
        Truth truth{point.quantity, {}};
        for (auto const* const name : point.names) {
            profile::Field field;
            field.address = static_cast<std::uint16_t>(base + 70 + profile::find_point(model, name)->offset);
            field.type = floating ? profile::ValueType::float32 : profile::ValueType::int16;
            field.scale = floating ? 1.0 : std::pow(10.0, point.exponent);
            truth.fields.push_back(field);
        }
        truths.push_back(truth);
    }
    return truths;
}

// One meter out of the hat. `dumps` of them, `apart` seconds apart.
inline TestMeter drawn_meter(unsigned seed, std::size_t dumps, double apart) {
    Dice dice(seed);
    TestMeter meter;
    meter.expected.nominal = dice.one_in(4) ? plan::Nominal{120.0, 208.0, 60.0} : plan::Nominal{230.0, 400.0, 50.0};
    auto load = drawn_load(dice, meter.expected.nominal);
    double largest_w = 0.0;
    for (std::size_t k = 0; k < 3; ++k) {
        meter.largest_a = std::max(meter.largest_a, *load.shown.i[k]);
        largest_w = std::max(largest_w, *load.shown.s[k]);
    }
    unsigned const kind = dice.below(8);
    unsigned const junk = dice.below(1U << 30U);
    DrawnMap drawn = MapMaker(dice, largest_w).made();
    constexpr std::array files{"hollowick-h1", "tarnfell-t3", "wexby-w2"};
    constexpr std::array models{203, 213};
    profile::SunspecScales const scales{.a = meter.largest_a > 300.0 ? -1 : -2, .w = largest_w > 10000.0 ? 1 : 0,
                                        .va = largest_w > 10000.0 ? 1 : 0, .var = largest_w > 10000.0 ? 1 : 0};
    if (kind < 3) {
        meter.kind = files.at(kind);
        drawn.map = profile::read_profile_file(std::string(PHASEWRIGHT_SOURCE_DIR) + "/profiles/" + files.at(kind) + ".toml").value();
        drawn.counters.clear();
    } else if (kind < 5) {
        meter.kind = kind == 3 ? "SunSpec 203" : "SunSpec 213";
    } else {
        meter.kind = "drawn map";
    }
    for (std::size_t dump = 0; dump < dumps; ++dump) {
        profile::RegisterImage image;
        if (kind == 3 || kind == 4) {
            image = profile::sunspec_image(models.at(kind - 3), load.shown, {.maker = "Invented", .model = "M"}, scales);
        } else {
            image = profile::encode(drawn.map, load.shown, {.ct_programmed = quantity::TransformerRatio{200, 5}, .vendor = "Invented"});
            put_counters(image, drawn.counters, load);
            if (kind >= 5) fill(image, drawn.map.measurements.begin()->second.front().function, drawn.first, drawn.last, junk);
        }
        meter.dumps.push_back({std::move(image), apart > 0.0 ? std::optional(apart * static_cast<double>(dump)) : std::nullopt});
        load = later(load, apart, dice);
    }
    meter.truths = kind == 3 || kind == 4 ? sunspec_truths(models.at(kind - 3), 40000, scales) : truths_of(drawn.map);
    meter.truths.insert(meter.truths.end(), drawn.counters.begin(), drawn.counters.end());
    if (kind == 3 || kind == 4) meter.truths.erase(meter.truths.end() - static_cast<std::ptrdiff_t>(drawn.counters.size()), meter.truths.end());
    return meter;
}

enum class Mark { right, wrong, missed };
inline Mark mark_of(Truth const& truth, TestMeter const& meter, Decoding const& decoding) {
    for (auto const& field : decoding.fields) {
        if (field.placed.quantity != truth.quantity) continue;
        if (field.placed.function != truth.fields.front().function) return Mark::wrong;
        for (std::size_t k = 0; k < truth.fields.size(); ++k) {
            auto const due = shown_by(truth.fields[k], meter.dumps, 0);
            auto const& seen = field.shown.front().at(k);
            if (field.placed.addresses.at(k) != truth.fields[k].address ||
                profile::registers_of(field.placed.format.type) != profile::registers_of(truth.fields[k].type))
                return Mark::wrong;
            if (due.state == Shown::State::number && std::abs(std::abs(seen.value) - std::abs(due.value)) > 1e-6 * std::abs(due.value)) return Mark::wrong;
        }
        return Mark::right;
    }
    return Mark::missed;
}

}  // namespace phasewright::decoder
