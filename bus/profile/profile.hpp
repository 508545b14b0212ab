// A profile says which register of a meter holds what: type, word order, scale, unit, sign, and the raw
// value that means "not available". docs/reference/profile.md is its file format. Profiles are data; no
// meter is known to the code.
#pragma once
#include <cstdint>
#include <expected>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bus/codec/question.hpp"
#include "core/plan/service.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::profile {

enum class ValueType { int16, uint16, int32, uint32, int64, uint64, float32, float64 };
[[nodiscard]] int registers_of(ValueType type);  // 1, 2 or 4

enum class Order { high_first, low_first };  // of the words in a value, of the bytes in a word

// How a register can hold the scale of others: 10^raw, raw itself, or 1/raw.
enum class ScaleKind { power_of_ten, multiplier, divisor };
struct ScaleRegister {
    codec::Function function = codec::Function::read_holding_registers;
    std::uint16_t address = 0;
    ScaleKind kind = ScaleKind::power_of_ten;
    int usual = 0;  // the raw value it usually holds; only virtual meters use it
};

// How one number is kept.   value in SI = sign * raw * scale * 10^(scale register) * unit factor
struct Field {
    codec::Function function = codec::Function::read_holding_registers;
    std::uint16_t address = 0;  // on the wire, the profile's base included
    ValueType type = ValueType::uint16;
    Order words = Order::high_first;
    Order bytes = Order::high_first;
    double scale = 1.0;
    std::optional<ScaleRegister> scale_register;
    double unit_factor = 1.0;  // 1000 for kW
    bool reversed = false;     // the meter's sign is the opposite of docs/reference/directions.md
    std::vector<std::uint64_t> not_available;  // raw bit patterns, right-aligned
};

// The names under [measurements] in a profile are these, and the fields of readings::Snapshot.
enum class Measure {
    v,
    v_ll,
    i,
    p,
    q,
    s,
    pf,
    v_angle,
    i_angle,
    thd_i,  // lists
    i_n,
    hz,
    p_total,
    q_total,
    s_total,
    pf_total,  // single numbers
};
[[nodiscard]] std::string_view name_of(Measure measure);
[[nodiscard]] bool is_per_element(Measure measure);  // v_ll counts as such: one field a line voltage

// Which of a measurement's fields belong to the elements of a service, in order.
struct ServiceShape {
    plan::Service service = plan::Service::four_wire_wye;
    std::vector<int> elements;            // indices into the fields of v, i, p, q, ...
    std::vector<int> lines;               // indices into the fields of v_ll; may be empty
    std::vector<int> v_from_lines;        // when not empty, the elements' voltages are these line voltages
    std::optional<std::int64_t> setting;  // what the service register holds for this service
};

struct TextField {  // characters, two a register, high byte first; ends at the first NUL
    codec::Function function = codec::Function::read_holding_registers;
    std::uint16_t address = 0;
    std::uint16_t registers = 1;
};

struct IdentityFields {
    std::optional<TextField> vendor_text, model_text, serial_text;
    std::optional<Field> serial_number;
    bool device_identification = false;  // ask function 43/14 too
};

struct Profile {
    std::string name;  // for people
    std::string maker;
    std::string about;
    std::map<Measure, std::vector<Field>> measurements;
    std::vector<ServiceShape> services;  // at least one; the first is what the meter is taken to be set to
    std::optional<Field> service_register;
    std::optional<Field> ct_primary, ct_secondary;
    std::optional<double> ct_secondary_fixed;
    IdentityFields identity;
    plan::TerminalNames terminals;
    readings::SignHabit pf_sign = readings::SignHabit::unknown;
    readings::SignHabit var_sign = readings::SignHabit::iec;
    unsigned longest_read = 125;  // registers in one question
    unsigned bridge = 0;          // up to so many registers between two runs may be read along to join them
};

// `where` names the text in faults: the file's path.
[[nodiscard]] std::expected<Profile, quantity::Fault> read_profile(std::string_view toml_text,
                                                                   std::string const& where);
[[nodiscard]] std::expected<Profile, quantity::Fault> read_profile_file(std::string const& path);

// The shape of the service if the profile lists it, else of its first service.
[[nodiscard]] ServiceShape const& shape_for(Profile const& profile, std::optional<plan::Service> service);

}  // namespace phasewright::profile
