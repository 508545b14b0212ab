#include "bus/finder/identity.hpp"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

#include "bus/profile/sunspec.hpp"
#include "bus/profile/sunspec_layout.hpp"

namespace phasewright::finder {

namespace {
using codec::Fault;
using codec::FaultKind;
using codec::Function;
constexpr auto holding = Function::read_holding_registers;
constexpr int most_models = 20;  // a meter has few; who they are is known long before

bool ends_it(Fault const& fault) {
    return fault.kind == FaultKind::cancelled || fault.kind == FaultKind::unreachable || fault.kind == FaultKind::closed ||
           fault.kind == FaultKind::line_in_use;
}

std::expected<void, Fault> ask_function_43(port::Line& line, std::uint8_t unit, Identity& identity) {
    auto const told = port::read_identification(line, unit);
    if (!told) {
        if (ends_it(told.error())) return std::unexpected(told.error());
        return {};
    }
    identity.by_function_43 = true;
    for (auto const& object : told->objects) {
        if (object.id == 0) identity.maker = object.text;
        if (object.id == 1) identity.model = object.text;
        if (object.id == 2) identity.version = object.text;
    }
    return {};
}

// Registers, nothing when the device does not have them, or a fault that ends the conversation.
std::expected<std::optional<codec::Registers>, Fault> registers_at(port::Line& line, std::uint8_t unit,
                                                                   std::uint32_t address, std::uint16_t count) {
    if (address + count > 0x10000U) return std::nullopt;
    auto found = port::read_registers(line, unit, holding, static_cast<std::uint16_t>(address), count);
    if (found) return std::optional(*found);
    if (ends_it(found.error())) return std::unexpected(found.error());
    return std::nullopt;
}

std::expected<std::optional<std::uint32_t>, Fault> find_marker(port::Line& line, std::uint8_t unit) {
    for (auto const base : profile::sunspec_bases) {
        auto const found = registers_at(line, unit, base, 2);
        if (!found) return std::unexpected(found.error());
        if (*found && (**found)[0] == 0x5375 && (**found)[1] == 0x6E53) return std::optional<std::uint32_t>(base);
    }
    return std::nullopt;
}

void take_common(codec::Registers const& body, Identity& identity) {
    auto const common = profile::decode_common(body);
    if (!common.maker.empty()) identity.maker = common.maker;
    if (!common.model.empty()) identity.model = common.model;
    if (!common.version.empty()) identity.version = common.version;
    identity.serial = common.serial;
}

std::expected<void, Fault> ask_sunspec(port::Line& line, std::uint8_t unit, Identity& identity) {
    auto const marker = find_marker(line, unit);
    if (!marker) return std::unexpected(marker.error());
    if (!*marker) return {};
    identity.sunspec = true;
    identity.sunspec_base = static_cast<std::uint16_t>(**marker);
    std::uint32_t address = **marker + 2U;
    for (int count = 0; count < most_models; ++count) {
        auto const head = registers_at(line, unit, address, 2);
        if (!head) return std::unexpected(head.error());
        if (!*head || (**head)[0] == 0xFFFF) return {};
        int const id = (**head)[0];
        std::uint16_t const length = (**head)[1];
        if (id == profile::common_model && length > 0) {
            auto const body = registers_at(line, unit, address + 2, std::min(length, profile::common_length));
            if (!body) return std::unexpected(body.error());
            if (*body) {
                codec::Registers whole{(**head)[0], length};
                whole.insert(whole.end(), (*body)->begin(), (*body)->end());
                take_common(whole, identity);
            }
        } else if (profile::is_sunspec_meter(id)) {
            identity.sunspec_meter_model = id;
            return {};
        }
        address += 2U + length;
    }
    return {};
}
}  // namespace

std::string to_text(Identity const& identity) {
    // Many models carry their maker's name already.
    auto text = identity.model.starts_with(identity.maker) && !identity.model.empty() ? std::string() : identity.maker;
    if (!identity.model.empty()) text += (text.empty() ? "" : " ") + identity.model;
    if (!identity.serial.empty()) text += (text.empty() ? "serial " : ", serial ") + identity.serial;
    return text.empty() ? "says nothing about itself" : text;
}

std::expected<Identity, Fault> identify(port::Line& line, std::uint8_t unit) {
    Identity identity;
    if (auto const told = ask_function_43(line, unit, identity); !told) return std::unexpected(told.error());
    if (auto const told = ask_sunspec(line, unit, identity); !told) return std::unexpected(told.error());
    return identity;
}

}  // namespace phasewright::finder
