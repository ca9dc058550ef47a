// Once, before anything is entered: the office's address and a one-time code, as the office gives them.
// NOT BUILT where this was written: it needs a Mac.
import SwiftUI

struct EnrolView: View {
    let enrolled: () -> Void
    @State private var address = ""
    @State private var code = ""
    @State private var problem: String?
    @State private var asking = false

    var body: some View {
        Form {
            TextField("Address of the office", text: $address).keyboardType(.URL)
            TextField("One-time code", text: $code)
            Button("Enrol this phone", action: enrol).disabled(asking || address.isEmpty)
            if let problem { Text(problem) }
        }
        .autocapitalization(.none)
        .disableAutocorrection(true)
    }

    private func enrol() {
        asking = true
        Task { @MainActor in
            do {
                try await Wire.enrol(address: address, code: code).keep()
                enrolled()
            } catch {
                problem = error.localizedDescription
            }
            asking = false
        }
    }
}
