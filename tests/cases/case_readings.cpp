#include <cmath>

#include "core/quantity/angle.hpp"
#include "tests/cases/case_file.hpp"
#include "tests/cases/case_words.hpp"

namespace phasewright::cases {

using readings::Column;
using readings::Snapshot;

namespace {
struct Field {
    std::string_view word;
    Column Snapshot::* column;
    std::string_view unit;
};
constexpr std::array<Field, 8> fields{{{"u", &Snapshot::v, "V"},
                                       {"i", &Snapshot::i, "A"},
                                       {"p", &Snapshot::p, "W"},
                                       {"q", &Snapshot::q, "var"},
                                       {"pf", &Snapshot::pf, ""},
                                       {"u_ll", &Snapshot::v_ll, "V"},
                                       {"u_angle", &Snapshot::v_angle, "deg"},
                                       {"i_angle", &Snapshot::i_angle, "deg"}}};

Field const* field_named(std::string_view word) {
    for (auto const& field : fields)
        if (field.word == word) return &field;
    return nullptr;
}
bool is_value(std::string_view word) {
    return !word.empty() && (std::string_view{"+-.0123456789"}.find(word.front()) != std::string_view::npos);
}

void read_column(Words& words, Field const& field, Snapshot& snapshot) {
    auto& column = snapshot.*field.column;
    while (is_value(words.peek())) {
        if (words.take("-")) {
            column.emplace_back();
            continue;
        }
        column.emplace_back(words.number());
        if (!field.unit.empty()) words.must(field.unit);
    }
}
}  // namespace

std::expected<Snapshot, std::string> read_readings(std::string_view rest, std::size_t elements) {
    Words words(rest);
    Snapshot snapshot;
    while (!words.empty() && !words.fault()) {
        if (words.take("i_n")) {
            snapshot.i_n = words.number_in("A");
        } else if (words.take("hz")) {
            snapshot.hz = words.number_in("Hz");
        } else if (auto const* const field = field_named(words.peek())) {
            (void)words.next();
            read_column(words, *field, snapshot);
            if (field->word != "u_ll" && (snapshot.*field->column).size() != elements)
                words.wrong(std::to_string(elements) + " values of " + std::string{field->word});
        } else {
            words.wrong("u i p q pf u_ll u_angle i_angle i_n or hz");
        }
    }
    if (words.fault()) return std::unexpected(*words.fault());
    return snapshot;
}

namespace {
using wiring::ElementSeen;

double degrees(std::complex<double> phasor) { return quantity::to_degrees({std::arg(phasor)}).value; }

// The angle against the first element that has a voltage; nothing for what stands still.
std::optional<double> angle_of(std::complex<double> phasor, double zero_deg, double least) {
    if (std::abs(phasor) <= least) return std::nullopt;
    return quantity::wrapped_deg(degrees(phasor) - zero_deg);
}

Column line_volts(Plan const& plan, wiring::Wiring const& wiring) {
    Column volts;
    for (auto const& [from, to] : plan.model.line_pairs) {
        auto const one = wiring.voltage[static_cast<std::size_t>(from)];
        auto const other = wiring.voltage[static_cast<std::size_t>(to)];
        if (one == wiring::Touch::lost || other == wiring::Touch::lost)
            volts.emplace_back();
        else
            volts.emplace_back(std::abs(plan.source[static_cast<std::size_t>(one)] -
                                        plan.source[static_cast<std::size_t>(other)]));
    }
    return volts;
}
}  // namespace

std::expected<Snapshot, std::string> snapshot_as_wired(std::string_view wanted, Plan const& plan,
                                                       wiring::Wiring const& wiring,
                                                       wiring::Currents const& load) {
    auto const seen = elements_of(seen_by(wiring, plan.model), plan.source, load);
    double const least_v = 0.02 * plan.set.nominal.v_ln;
    double zero = 0.0;
    for (auto const& element : seen)
        if (std::abs(element.v) > least_v) {
            zero = degrees(element.v);
            break;
        }
    Snapshot all;
    for (auto const& element : seen) {
        all.v.emplace_back(std::abs(element.v));
        all.i.emplace_back(std::abs(element.i));
        all.p.emplace_back(element.s.real());
        all.q.emplace_back(element.s.imag());
        bool const alive = std::abs(element.s) > 0.0;
        all.pf.push_back(alive ? std::optional{element.s.real() / std::abs(element.s)} : std::nullopt);
        all.v_angle.push_back(angle_of(element.v, zero, least_v));
        all.i_angle.push_back(angle_of(element.i, zero, 0.0));
    }
    all.v_ll = line_volts(plan, wiring);
    Snapshot snapshot;
    Words words(wanted);
    while (!words.empty() && !words.fault()) {
        auto const* const field = field_named(words.next());
        if (field == nullptr)
            words.wrong("u i p q pf u_ll u_angle or i_angle");
        else
            snapshot.*field->column = all.*field->column;
    }
    if (words.fault()) return std::unexpected(*words.fault());
    return snapshot;
}

}  // namespace phasewright::cases
