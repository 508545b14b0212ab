#include "bus/decoder/seeds.hpp"

#include <algorithm>
#include <cmath>

namespace phasewright::decoder {

namespace {

using profile::Order;
using profile::ValueType;

constexpr unsigned widest_stride = 40;  // registers from one phase's block to the next
constexpr std::size_t most_seeds = 30;
constexpr std::size_t pairs_a_seed = 40;

std::vector<Format> seed_formats() {
    std::vector<Format> formats;
    for (auto const bytes : {Order::high_first, Order::low_first}) {
        formats.push_back({ValueType::uint16, Order::high_first, bytes});
        for (auto const words : {Order::high_first, Order::low_first}) {
            for (auto const type : {ValueType::uint32, ValueType::float32, ValueType::uint64, ValueType::float64})
                formats.push_back({type, words, bytes});
        }
    }
    return formats;
}

// The power of ten that brings the number nearest to the nominal, when that comes near enough.
std::optional<int> exponent_near(Shown const& shown, double nominal) {
    if (shown.state != Shown::State::number || !(shown.value > 0.0)) return std::nullopt;
    double const decades = std::log10(nominal / shown.value);
    double const whole = std::round(decades);
    if (std::abs(decades - whole) > 0.1 || whole < -4.0 || whole > 3.0) return std::nullopt;
    return static_cast<int>(whole);
}

class VoltageSearch {
public:
    VoltageSearch(Deck const& deck, Expected const& expected)
        : deck_(deck), expected_(expected), picture_(empty_picture(deck, expected)) {}

    std::vector<Placed> found() {
        for (auto const function : both_functions) {
            if (deck_.addresses(function).empty()) continue;
            for (auto const& format : seed_formats()) in(function, format);
        }
        std::ranges::stable_sort(found_, std::ranges::greater{}, &Placed::gain);
        if (found_.size() > most_seeds) found_.resize(most_seeds);
        return std::move(found_);
    }

private:
    void in(codec::Function function, Format const& format) {
        auto const& line = deck_.line(function, format);
        auto const size = static_cast<unsigned>(profile::registers_of(format.type));
        unsigned const widest = expected_.phases > 1 ? widest_stride : size;
        for (std::uint32_t const start : deck_.addresses(function)) {
            for (unsigned stride = size; stride <= widest; ++stride) at(function, format, line, start, stride);
        }
    }

    void at(codec::Function function, Format const& format, Deck::Line const& line, std::uint32_t start,
            unsigned stride) {
        std::optional<int> exponent;
        std::size_t near = 0;
        std::array<Shown const*, most_phases> cells{};
        for (std::size_t phase = 0; phase < expected_.phases; ++phase) {
            int const place = deck_.place_of(function, start + static_cast<std::uint32_t>(phase) * stride);
            if (place < 0) return;
            auto const& cell = line.cells[static_cast<std::size_t>(place) * deck_.dumps()];
            if (cell.state == Shown::State::absent) return;
            cells.at(phase) = &cell;
            auto const fits = exponent_near(cell, expected_.nominal.v_ln);
            if (!fits) continue;
            if (exponent && *exponent != *fits) return;
            exponent = fits;
            ++near;
        }
        if (!exponent || near < std::min<std::size_t>(2, expected_.phases)) return;
        for (std::size_t phase = 0; phase < expected_.phases; ++phase) {
            auto const& cell = *cells.at(phase);  // a dead phase shows little, never more than a live one
            if (cell.state == Shown::State::number &&
                (cell.value < 0.0 || cell.value * power_of_ten(*exponent) > 1.3 * expected_.nominal.v_ln))
                return;
        }
        keep(function, format, start, stride, *exponent);
    }

    void keep(codec::Function function, Format const& format, std::uint32_t start, unsigned stride, int exponent) {
        Placed placed{.quantity = Quantity::v, .function = function, .format = format, .exponent = exponent};
        for (std::size_t phase = 0; phase < expected_.phases; ++phase)
            placed.addresses.push_back(static_cast<std::uint16_t>(start + static_cast<std::uint32_t>(phase) * stride));
        double scale = -9.0;
        for (auto const& known : scales_for(Quantity::v, profile::is_floating(format.type)))
            if (known.exponent == exponent) scale = known.log_probability;
        auto const size = static_cast<unsigned>(profile::registers_of(format.type));
        placed.gain = log_odds(Quantity::v, rows_of(deck_, placed), picture_) + scale + log_prior_of_orders(format) +
                      std::log(stride == size ? 0.6 : 0.4 / widest_stride) -
                      std::log(static_cast<double>(deck_.addresses(function).size()));
        if (size == 4) placed.gain -= 2.0;
        found_.push_back(std::move(placed));
    }

    Deck const& deck_;
    Expected const& expected_;
    Picture picture_;
    std::vector<Placed> found_;
};

// A column in the first dump, before any power of ten.
struct Column {
    Placed placed;
    std::array<double, most_phases> value{};
    std::array<double, most_phases> step{};
    std::array<double, most_phases> grain{};
    double score = 0.0;  // what speaks for it alone: bits that are no longer any bits, its prior, its grains
};

std::vector<Column> columns(Deck const& deck, Draft const& draft, Quantity quantity) {
    std::vector<Column> found;
    double const widest = quantity == Quantity::i ? 100.0 : 1000.0;
    draft.each_place(quantity, [&](Placed const& placed, Deck::Line const& line, int) {
        Column column{.placed = placed};
        double least = 1e300;
        double most = 0.0;
        for (std::size_t phase = 0; phase < placed.addresses.size(); ++phase) {
            int const place = deck.place_of(placed.function, placed.addresses[phase]);
            auto const& cell = line.cells[static_cast<std::size_t>(place) * deck.dumps()];
            if (cell.state != Shown::State::number) continue;
            column.value.at(phase) = cell.value;
            column.step.at(phase) = cell.step;
            column.grain.at(phase) = cell.grain;
            column.score -= cell.log_background;
            if (quantity == Quantity::i && cell.value < 0.0) return;
            if (cell.value == 0.0) continue;
            if (quantity == Quantity::i) column.score += std::log(cell.grain / cell.value);
            least = std::min(least, std::abs(cell.value));
            most = std::max(most, std::abs(cell.value));
        }
        if (most <= 0.0 || most > widest * least || most > 1e12 || most < 1e-9) return;
        column.score += draft.log_prior(column.placed) - log_prior_of_scale(column.placed, draft.layout().placed);
        found.push_back(std::move(column));
    });
    return found;
}

struct Quick {
    Column const* current = nullptr;
    Column const* power = nullptr;
    int between = 0;  // power of ten of P less that of I
    double score = 0.0;
};

bool overlap(Placed const& a, Placed const& b) {
    if (a.function != b.function) return false;
    auto const size_a = profile::registers_of(a.format.type);
    auto const size_b = profile::registers_of(b.format.type);
    for (int const at_a : a.addresses)
        for (int const at_b : b.addresses)
            if (at_a < at_b + size_b && at_b < at_a + size_a) return true;
    return false;
}

// How usual the best powers of ten of the two are, when they lie so far apart and the currents are of a size that
// somebody expects.
double log_usual(Column const& current, Column const& power, int between, Expected const& expected) {
    bool const floating_i = profile::is_floating(current.placed.format.type);
    bool const floating_p = profile::is_floating(power.placed.format.type);
    double const largest = *std::ranges::max_element(current.value);
    double best = -12.0;
    for (auto const& of_current : scales_for(Quantity::i, floating_i)) {
        double const amperes = largest * power_of_ten(of_current.exponent);
        auto const& range = expected.current_a;
        bool const odd = range ? amperes < range->first || amperes > range->second : amperes < 0.02 || amperes > 6000.0;
        for (auto const& of_power : scales_for(Quantity::p, floating_p)) {
            if (of_power.exponent != of_current.exponent + between) continue;
            best = std::max(best, of_current.log_probability + of_power.log_probability - (odd ? 4.0 : 0.0));
        }
    }
    return best;
}

// What the two say about each other: |P| <= V I, and rather near it.
std::optional<double> fit(Column const& current, Column const& power, Row const& volts, std::size_t phases,
                          int between) {
    double product = 1.0;
    double const factor = power_of_ten(between);
    for (std::size_t phase = 0; phase < phases; ++phase) {
        double const watts = std::abs(power.value.at(phase)) * factor;
        if (current.step.at(phase) == 0.0 || power.step.at(phase) == 0.0) {  // one of them says that it has no value
            if (watts > 0.0) product *= std::min(1.0, 0.03 * power.grain.at(phase) * factor / watts);
            continue;
        }
        double const most = volts.at(phase).value * current.value.at(phase);
        double const step = power.step.at(phase) * factor;
        double const blur = 0.005 * most + step + volts.at(phase).value * current.step.at(phase);
        if (watts > most + 2.0 * blur) return std::nullopt;
        double const grain = power.grain.at(phase) * factor;
        if (most < 3.0 * blur) {  // next to no current: the watts are near zero, and say so
            product *= 0.05 * std::min(1.0, grain / (2.5 * blur + most));
            continue;
        }
        double const share = std::min(watts / most, 1.0);
        product *= (0.12 + 4.25 * share * share * share * share) * grain / most;
    }
    return std::log(std::max(product, 1e-300)) + current.score + power.score;
}

// Keeps the best few; what cannot get among them is not weighed further.
class Best {
public:
    explicit Best(std::size_t most) : most_(most) {}
    [[nodiscard]] bool may_enter(double score) const { return kept_.size() < most_ || score > worst_; }
    void enter(Quick const& quick) {
        kept_.push_back(quick);
        if (kept_.size() < 2 * most_) return;
        cut();
    }
    void cut() {
        std::ranges::stable_sort(kept_, std::ranges::greater{}, &Quick::score);
        if (kept_.size() > most_) kept_.resize(most_);
        if (kept_.size() == most_) worst_ = kept_.back().score;
    }
    [[nodiscard]] std::vector<Quick> const& kept() const { return kept_; }

private:
    std::size_t most_;
    double worst_ = -1e300;
    std::vector<Quick> kept_;
};

void try_pair(Column const& current, Column const& power, Row const& volts, Expected const& expected, Best& best) {
    std::size_t const phases = expected.phases;
    double most = 0.0;
    for (std::size_t phase = 0; phase < phases; ++phase) {
        double const apparent = volts.at(phase).value * current.value.at(phase);
        if (apparent > 0.0) most = std::max(most, std::abs(power.value.at(phase)) / apparent);
    }
    if (!(most > 0.0)) return;
    int const least = static_cast<int>(std::floor(-std::log10(most)));
    for (int const between : {least, least + 1}) {
        if (between < -6 || between > 10) continue;
        auto const score = fit(current, power, volts, phases, between);
        if (!score || !best.may_enter(*score)) continue;
        best.enter({&current, &power, between, *score + log_usual(current, power, between, expected)});
    }
}

// The best powers of ten for the pair: the currents' own, with the powers' at a fixed distance.
void unfold(Deck const& deck, Draft const& draft, Quick const& quick, std::vector<CurrentAndPower>& found) {
    std::vector<CurrentAndPower> here;
    bool const floating = profile::is_floating(quick.current->placed.format.type);
    for (auto const& scale : scales_for(Quantity::i, floating)) {
        CurrentAndPower pair{quick.current->placed, quick.power->placed};
        pair.current.exponent = scale.exponent;
        pair.power.exponent = scale.exponent + quick.between;
        auto picture = draft.picture();
        auto const amperes = rows_of(deck, pair.current);
        pair.current.gain = log_odds(Quantity::i, amperes, picture) + draft.log_prior(pair.current);
        picture.rows.at(index_of(Quantity::i)) = amperes;
        pair.power.gain = log_odds(Quantity::p, rows_of(deck, pair.power), picture) + draft.log_prior(pair.power);
        here.push_back(std::move(pair));
    }
    std::ranges::stable_sort(here, std::ranges::greater{}, &CurrentAndPower::gain);
    for (std::size_t at = 0; at < here.size() && at < 1; ++at) found.push_back(here[at]);
}

}  // namespace

std::vector<Placed> voltage_seeds(Deck const& deck, Expected const& expected) {
    return VoltageSearch(deck, expected).found();
}

std::vector<CurrentAndPower> currents_with_powers(Deck const& deck, Draft const& draft) {
    auto const currents = columns(deck, draft, Quantity::i);
    auto const powers = columns(deck, draft, Quantity::p);
    auto const& volts = draft.picture().rows.at(index_of(Quantity::v))->dumps.front();
    Best best(pairs_a_seed);
    for (auto const& current : currents) {
        for (auto const& power : powers)
            if (!overlap(current.placed, power.placed))
                try_pair(current, power, volts, draft.picture().expected, best);
    }
    best.cut();
    std::vector<CurrentAndPower> found;
    for (auto const& one : best.kept()) unfold(deck, draft, one, found);
    std::ranges::stable_sort(found, std::ranges::greater{}, &CurrentAndPower::gain);
    return found;
}

}  // namespace phasewright::decoder
