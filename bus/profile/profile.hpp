// A profile says which register of a meter holds what (measurements, energies, settings), and what the meter is as a
// thing with screws. docs/reference/profile.md is its file format. Profiles are data; no meter is known to the code.
#pragma once
#include <expected>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bus/profile/energy.hpp"
#include "bus/profile/field.hpp"
#include "bus/profile/setting.hpp"
#include "core/plan/meter_hardware.hpp"
#include "core/plan/service.hpp"
#include "core/plan/site.hpp"
#include "core/quantity/fault.hpp"
#include "core/readings/reading_set.hpp"

namespace phasewright::profile {

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
    std::vector<EnergyRegisters> energies;  // in the order of their names
    std::vector<Setting> settings;          // in the order of all_setting_names
    bool legal = false;                     // sealed or used for billing: it is read and never written
    IdentityFields identity;
    plan::TerminalNames terminals;
    plan::MeterHardware hardware;
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
