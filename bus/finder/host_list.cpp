#include <array>
#include <charconv>

#include <fmt/format.h>

#include "bus/finder/host_search.hpp"

namespace phasewright::finder {

namespace {
using quantity::Fault;

constexpr auto allowed =
    "names or addresses with commas between them, each with :PORT where it is not 502; a range as 192.0.2.10-20";

std::optional<unsigned> whole(std::string_view text, unsigned most) {
    unsigned value = 0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size() || text.empty() || value > most) return std::nullopt;
    return value;
}

using Address = std::array<unsigned, 4>;

std::optional<Address> address_of(std::string_view text) {
    Address address{};
    for (std::size_t part = 0; part < 4; ++part) {
        auto const end = part == 3 ? text.size() : text.find('.');
        if (end == std::string_view::npos) return std::nullopt;
        auto const value = whole(text.substr(0, end), 255);
        if (!value) return std::nullopt;
        address[part] = *value;
        text.remove_prefix(part == 3 ? end : end + 1);
    }
    return address;
}

unsigned number_of(Address const& address) {
    return address[0] << 24U | address[1] << 16U | address[2] << 8U | address[3];
}

std::string text_of(unsigned number) {
    return fmt::format("{}.{}.{}.{}", number >> 24U, number >> 16U & 255U, number >> 8U & 255U, number & 255U);
}

bool is_name(std::string_view text) {
    return !text.empty() && text.size() <= 253 && text.front() != '-' &&
           text.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-_") ==
               std::string_view::npos;
}

std::unexpected<Fault> refuse(std::string what, std::string_view found, std::string remedy) {
    return std::unexpected(Fault{std::move(what), "--host", std::string(found), allowed, std::move(remedy)});
}

// One entry without its port, as the hosts it stands for.
std::expected<std::vector<std::string>, Fault> hosts_of(std::string_view text) {
    auto const dash = text.find('-');
    auto const first = dash == std::string_view::npos ? std::nullopt : address_of(text.substr(0, dash));
    if (!first) {
        if (!is_name(text)) return refuse("this is no host", text, "write a name or an address");
        return std::vector{std::string(text)};
    }
    auto const behind = text.substr(dash + 1);
    auto last = address_of(behind);
    if (auto const part = whole(behind, 255)) {
        last = first;
        (*last)[3] = *part;
    }
    if (!last || number_of(*last) < number_of(*first))
        return refuse("this range has no end, or ends before it begins", text, "write it as 192.0.2.10-20");
    if (number_of(*last) - number_of(*first) >= most_hosts)
        return refuse(fmt::format("this range has more than {} hosts", most_hosts), text, "name a smaller one");
    std::vector<std::string> hosts;
    for (unsigned number = number_of(*first); hosts.size() <= number_of(*last) - number_of(*first); ++number)
        hosts.push_back(text_of(number));
    return hosts;
}
}  // namespace

std::string to_text(HostPlace const& place) { return place.host + ":" + std::to_string(place.port); }

std::expected<std::vector<HostPlace>, Fault> read_host_list(std::string_view text, std::uint16_t port) {
    std::vector<HostPlace> places;
    while (true) {
        auto const comma = text.find(',');
        auto entry = text.substr(0, comma);
        while (!entry.empty() && entry.front() == ' ') entry.remove_prefix(1);
        while (!entry.empty() && entry.back() == ' ') entry.remove_suffix(1);
        auto own_port = port;
        if (auto const colon = entry.find(':'); colon != std::string_view::npos) {
            auto const told = whole(entry.substr(colon + 1), 65535);
            if (!told || *told == 0) return refuse("this is no port", entry, "write it as 192.0.2.7:1502");
            own_port = static_cast<std::uint16_t>(*told);
            entry = entry.substr(0, colon);
        }
        auto const hosts = hosts_of(entry);
        if (!hosts) return std::unexpected(hosts.error());
        for (auto const& host : *hosts) places.push_back({host, own_port});
        if (places.size() > most_hosts)
            return refuse(fmt::format("these are more than {} hosts", most_hosts), entry, "search them in several runs");
        if (comma == std::string_view::npos) return places;
        text.remove_prefix(comma + 1);
    }
}

}  // namespace phasewright::finder
