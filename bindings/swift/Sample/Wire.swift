// The office over the system's own HTTP: enrol once, exchange. Core says what to send.
// NOT BUILT where this was written: it needs a Mac.
import Foundation
import Scupper
import UIKit

/// What the office said no to, or that it was not reached, in words for a person.
struct OfficeProblem: LocalizedError {
    let errorDescription: String?
}

/// What enrolling brought. A real app keeps the token in the Keychain.
struct Enrolment {
    let server: URL
    let token: String
    let author: String

    static var kept: Enrolment? {
        let store = UserDefaults.standard
        guard let server = store.url(forKey: "server"), let token = store.string(forKey: "token"),
              let author = store.string(forKey: "author") else { return nil }
        return Enrolment(server: server, token: token, author: author)
    }

    func keep() {
        let store = UserDefaults.standard
        store.set(server, forKey: "server")
        store.set(token, forKey: "token")
        store.set(author, forKey: "author")
    }

    /// The office does not know this phone any more: it has to be enrolled again.
    static func forgetToken() { UserDefaults.standard.removeObject(forKey: "token") }

    /// By what name this phone calls itself, for good.
    static var deviceId: String {
        let store = UserDefaults.standard
        let id = store.string(forKey: "device") ?? UUID().uuidString
        store.set(id, forKey: "device")
        return id
    }

    func request(_ path: String, _ method: String) -> URLRequest? {
        guard let url = URL(string: path, relativeTo: server) else { return nil }
        var request = URLRequest(url: url)
        request.httpMethod = method
        request.setValue("Bearer \(token)", forHTTPHeaderField: "authorization")
        return request
    }
}

enum Wire {
    /// Enrols this phone with a one-time code. An invitation, `SERVER/enrol#CODE`, may stand for both.
    static func enrol(address: String, code: String) async throws -> Enrolment {
        let parts = address.trimmingCharacters(in: .whitespaces).components(separatedBy: "/enrol#")
        guard let server = URL(string: parts[0]), let url = URL(string: "/v1/enrol", relativeTo: server) else {
            throw OfficeProblem(errorDescription: "That is no address.")
        }
        var request = URLRequest(url: url)
        request.httpMethod = "POST"
        request.setValue("application/json", forHTTPHeaderField: "content-type")
        let code = parts.count > 1 ? parts[1] : code.trimmingCharacters(in: .whitespaces)
        let name = await UIDevice.current.model
        let ask = ["code": code, "device_id": Enrolment.deviceId, "device_name": name]
        let answer = try await send(request, JSONSerialization.data(withJSONObject: ask))
        guard let made = try JSONSerialization.jsonObject(with: answer) as? [String: Any],
              let token = made["token"] as? String, let author = made["author"] as? String else {
            throw OfficeProblem(errorDescription: "The office's answer cannot be read.")
        }
        return Enrolment(server: server, token: token, author: author)
    }

    /// Sends what is new here and takes in what is new there, until both are level.
    static func exchange(_ day: Day) async throws {
        guard let kept = Enrolment.kept, let survey = try await day.onWork({ day.survey }) else { return }
        let path = "/v1/surveys/\(survey.id())/exchange"
        guard var request = kept.request(path, "POST") else { return }
        request.setValue("application/octet-stream", forHTTPHeaderField: "content-type")
        var again = true
        while again {
            let message = try await day.onWork { try survey.prepareExchange() }
            let answer = try await send(request, message)
            again = try await day.onWork { try survey.acceptExchange(answer: answer).again }
        }
    }

    private static func send(_ request: URLRequest, _ body: Data) async throws -> Data {
        let (data, answer) = try await URLSession.shared.upload(for: request, from: body)
        let status = (answer as? HTTPURLResponse)?.statusCode ?? 0
        if (200..<300).contains(status) { return data }
        if status == 401, request.value(forHTTPHeaderField: "authorization") != nil {
            Enrolment.forgetToken()
            throw OfficeProblem(errorDescription: "Enrol this phone again.")
        }
        let told = try? JSONSerialization.jsonObject(with: data) as? [String: Any]
        throw OfficeProblem(errorDescription: told?["detail"] as? String ?? "The office answered \(status).")
    }
}
